package bench

import (
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/capturetest"
	"github.com/fascia-bench/fascia/capture/link"
)

// On a line that loses every tenth request and puts rubbish before answers, the check counts how many it had to send again and
// what came that was neither frame nor text, and says what to look for; on a good line it says neither.
func TestCheckTellsOfABadLine(t *testing.T) {
	program := capturetest.Compile(t, t.TempDir(), nil, "pipe_device.c")
	for _, bad := range []bool{false, true} {
		sent, lost, rubbish := 0, 0, 0
		// Time on this device is virtual: a request that is lost costs none.
		tap := &capturetest.Tap{Stream: capturetest.Start(t, program, capturetest.Panel{Width: 64, Height: 48, Format: capture.RGB565LE})}
		tap.Up = func(b []byte) []byte {
			if sent++; bad && sent%10 == 0 {
				lost++
				return nil
			}
			return b
		}
		tap.Down = func(b []byte) []byte {
			if bad && len(b) > 0 && sent%7 == 0 {
				rubbish += 3
				return append([]byte{0xfe, 0x80, 0xc1}, b...)
			}
			return b
		}
		c, err := link.Dial(t.Context(), tap, link.Options{})
		if err != nil {
			t.Fatal(err)
		}
		h, err := (&Device{Conn: c}).Check(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		c.Close()
		advice := strings.Join(h.Advice, "\n")
		if h.Requests != checkTrips || h.Resent != int64(lost) || bad != (lost > 3) {
			t.Errorf("bad %v: %d of %d requests sent again; %d were lost", bad, h.Resent, h.Requests, lost)
		}
		if bad != (h.Noise > 0) || h.Noise > int64(rubbish) {
			t.Errorf("bad %v: %d bytes of noise, %d of rubbish", bad, h.Noise, rubbish)
		}
		if bad != strings.Contains(advice, "had to be sent again: look for a loose cable") || bad != strings.Contains(advice, "neither frame nor text") {
			t.Errorf("bad %v: %s", bad, advice)
		}
	}
}
