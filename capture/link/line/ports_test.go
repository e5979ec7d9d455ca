package line

import (
	"strings"
	"testing"
)

// A port is found by what its adapter says of itself, wherever it stands after it was plugged in again; of two
// alike the serial number tells, and where that is missing nothing is guessed.
func TestPortsByTheirUSBDevice(t *testing.T) {
	ports := []Port{{Path: "/dev/ttyS0"}, {Path: "/dev/ttyUSB0", VID: "0403", PID: "6001", Serial: "A1"},
		{Path: "/dev/ttyUSB3", VID: "0403", PID: "6001", Serial: "A2"}, {Path: "/dev/ttyACM0", VID: "2E8A", PID: "000a"}}
	for text, want := range map[string]string{
		"usb=0403:6001:A1":          "/dev/ttyUSB0",
		"usb=0403:6001:A2?baud=300": "/dev/ttyUSB3",
		"usb=2e8a:000A":             "/dev/ttyACM0",
		"usb=0403:6001":             "/dev/ttyUSB0, /dev/ttyUSB3 are all such a device: add its serial number",
		"usb=0403:6001:A3":          "no such USB device is plugged in",
		"usb=dead:beef":             "no such USB device is plugged in",
	} {
		p, err := parseSerial(text)
		if err != nil {
			t.Fatal(err)
		}
		got, err := p.among(ports)
		if err != nil {
			got = err.Error()
		}
		if !seesUSB && err != nil {
			want = strings.Replace(want, "no such USB device is plugged in", "use a build with cgo", 1)
		}
		if !strings.Contains(got, want) {
			t.Errorf("%s: %q, want %q", text, got, want)
		}
	}
	ports[1].Path = "/dev/ttyUSB7" // it came back under another name
	p, _ := parseSerial("usb=0403:6001:A1")
	if got, err := p.among(ports); got != "/dev/ttyUSB7" || err != nil {
		t.Errorf("%q, %v", got, err)
	}
}
