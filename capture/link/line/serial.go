package line

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"
	"time"

	"go.bug.st/serial"
)

// DefaultBaud is the speed of a serial link that names none.
const DefaultBaud = 115200

// A serialPort is a port by its path, or by what its USB adapter says of itself.
type serialPort struct {
	path          string
	vid, pid, ser string // instead of path
	baud          int
}

func parseSerial(text string) (serialPort, error) {
	where, v, err := splitQuery(text, "baud")
	if err != nil {
		return serialPort{}, err
	}
	p := serialPort{path: where, baud: DefaultBaud}
	if b := v.Get("baud"); b != "" {
		if p.baud, err = strconv.Atoi(b); err != nil || p.baud < 50 || p.baud > 20_000_000 {
			return serialPort{}, fmt.Errorf("baud=%s is no speed between 50 and 20000000", b)
		}
	}
	if usb, ok := strings.CutPrefix(where, "usb="); ok {
		f := strings.SplitN(usb, ":", 3)
		if len(f) < 2 || !isID(f[0]) || !isID(f[1]) {
			return serialPort{}, errors.New("write usb=VID:PID or usb=VID:PID:SERIAL, with four hexadecimal digits each")
		}
		p.path, p.vid, p.pid = "", strings.ToLower(f[0]), strings.ToLower(f[1])
		if len(f) == 3 {
			p.ser = f[2]
		}
	}
	if p.path == "" && p.vid == "" {
		return serialPort{}, errors.New("it names no port")
	}
	return p, nil
}

func isID(s string) bool {
	_, err := strconv.ParseUint(s, 16, 16)
	return err == nil && len(s) == 4
}

func (p serialPort) String() string {
	if p.path != "" {
		return fmt.Sprintf("%s at %d baud", p.path, p.baud)
	}
	return fmt.Sprintf("the port of USB device %s:%s%s at %d baud", p.vid, p.pid, strings.TrimSuffix(":"+p.ser, ":"), p.baud)
}

// find returns the path. A port that enumerates anew may have another one each time.
func (p serialPort) find() (string, error) {
	if p.path != "" {
		return p.path, nil
	}
	ports, err := Ports()
	if err != nil {
		return "", err
	}
	return p.among(ports)
}

// among returns the path of the one port that is of that USB device.
func (p serialPort) among(ports []Port) (string, error) {
	var found []string
	for _, q := range ports {
		if strings.EqualFold(q.VID, p.vid) && strings.EqualFold(q.PID, p.pid) && (p.ser == "" || q.Serial == p.ser) {
			found = append(found, q.Path)
		}
	}
	switch {
	case len(found) == 1:
		return found[0], nil
	case len(found) > 1:
		return "", fmt.Errorf("%s are all such a device: add its serial number, usb=VID:PID:SERIAL", strings.Join(found, ", "))
	case !seesUSB:
		return "", errors.New("this build cannot tell ports by their USB device: name the port by its path, or use a build with cgo")
	}
	return "", errors.New("no such USB device is plugged in")
}

func (p serialPort) open(_ context.Context, opt Options) (io.ReadWriteCloser, error) {
	path, err := p.find()
	if err != nil {
		return nil, err
	}
	if who := holder(path); who != "" {
		return nil, fmt.Errorf("%s is in use by %s", path, who)
	}
	mode := &serial.Mode{BaudRate: p.baud}
	want := opt.Lines
	if want.DTR != nil || want.RTS != nil {
		// From the first moment on, where the driver can; a pseudo terminal cannot.
		mode.InitialStatusBits = &serial.ModemOutputBits{DTR: want.DTR == nil || *want.DTR, RTS: want.RTS == nil || *want.RTS}
	}
	port, err := serial.Open(path, mode)
	if err != nil && mode.InitialStatusBits != nil && !known(err) {
		mode.InitialStatusBits = nil
		if port, err = serial.Open(path, mode); err == nil && opt.Notice != nil {
			opt.Notice(path + " has no DTR and RTS lines; they are left alone")
		}
	}
	if err != nil {
		return nil, explain(path, err)
	}
	return wire{port}, nil
}

// known reports whether err is one that opening in another way does not cure.
func known(err error) bool {
	var pe *serial.PortError
	return errors.Is(err, os.ErrNotExist) || errors.Is(err, os.ErrPermission) || errors.As(err, &pe) && (pe.Code() == serial.PortBusy || pe.Code() == serial.PortNotFound || pe.Code() == serial.PermissionDenied)
}

// explain says what to do about a port that does not open.
func explain(path string, err error) error {
	if errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("there is no port %s%s", path, instead())
	}
	if errors.Is(err, os.ErrPermission) {
		return fmt.Errorf("not allowed to use %s: %s", path, remedy(path))
	}
	var pe *serial.PortError
	if !errors.As(err, &pe) {
		return err
	}
	switch pe.Code() {
	case serial.PermissionDenied:
		return fmt.Errorf("not allowed to use %s: %s", path, remedy(path))
	case serial.PortBusy:
		return fmt.Errorf("%s is in use by another program", path)
	case serial.PortNotFound:
		return fmt.Errorf("there is no port %s%s", path, instead())
	case serial.InvalidSerialPort:
		return fmt.Errorf("%s is no serial port", path)
	case serial.InvalidSpeed:
		return fmt.Errorf("%s does not do that speed", path)
	}
	return err
}

// instead names the ports that there are.
func instead() string {
	ports, err := Ports()
	if err != nil || len(ports) == 0 {
		return "; no serial port is plugged in"
	}
	var names []string
	for _, p := range ports {
		names = append(names, p.Path)
	}
	return "; there are " + strings.Join(names, ", ")
}

// wire is an open port.
type wire struct{ serial.Port }

// Read never returns nothing without an error: some drivers do, at a time-out that nobody set.
func (w wire) Read(p []byte) (int, error) {
	for {
		n, err := w.Port.Read(p)
		if n > 0 || err != nil {
			return n, err
		}
		time.Sleep(time.Millisecond) // a driver that returns at once must not spin
	}
}

func (w wire) Write(p []byte) (int, error) {
	total := 0
	for total < len(p) {
		n, err := w.Port.Write(p[total:])
		total += n
		if err != nil {
			return total, err
		}
	}
	return total, nil
}

func (w wire) pulse(name string) error {
	set := w.Port.SetRTS
	if name == "dtr" {
		set = w.Port.SetDTR
	}
	if err := set(true); err != nil {
		return fmt.Errorf("pulse %s: %w", name, err)
	}
	time.Sleep(100 * time.Millisecond)
	if err := set(false); err != nil {
		return fmt.Errorf("pulse %s: %w", name, err)
	}
	return nil
}
