package link_test

import (
	"flag"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/capturetest"
	"github.com/fascia-bench/fascia/capture/link"
)

var garbage = flag.Int("garbage", 3000, "rounds of garbage for each build of the agent")

// The device end, under the sanitizers, survives whatever comes over the line: whole frames with any
// kind and arguments, cut and damaged ones, and bytes that are none. Afterwards it says hello.
func TestTheAgentSurvivesGarbage(t *testing.T) {
	panels := []capturetest.Panel{small, {Width: 1, Height: 1, Format: capture.MonoPages}, {Width: 70, Height: 35, Format: capture.RGB888},
		{Width: 33, Height: 17, Format: capture.Palette8, Colours: 7}, {Width: 300, Height: 20, Format: capture.Grey2}}
	for name, start := range ends {
		for i, p := range panels {
			t.Run(name+" "+p.NewFrame().String(), func(t *testing.T) {
				r := rand.New(rand.NewPCG(uint64(i), 7))
				d := start(t, p)
				buf := make([]byte, 1<<16)
				for range *garbage / len(panels) {
					if err := d.Send(someGarbage(r)); err != nil {
						t.Fatal(err)
					}
					for wait := time.Duration(r.IntN(30)) * time.Millisecond; ; wait = 0 {
						n, err := d.Receive(buf, wait)
						if err != nil {
							t.Fatal(err)
						}
						if n == 0 || r.IntN(50) == 0 {
							break
						}
					}
				}
				c := dial(t, d, link.Options{Tries: 20})
				if h := c.Hello(); h.Device != "pipe" {
					t.Errorf("it says hello as %+v", h)
				}
			})
		}
	}
}

func someGarbage(r *rand.Rand) []byte {
	kinds := []byte{1, 2, 0x10, 0x11, 0x12, 0x13, 0x13, 0x13, 0x14, 0x15, 0x16, 0x17, 0x20, 0x21, 0x22, 0x23, 0x24, 0x25, 0x26}
	body := []byte{kinds[r.IntN(len(kinds))], byte(r.IntN(4))}
	if r.IntN(20) == 0 {
		body[0] = byte(r.Uint32())
	}
	for range r.IntN(130) {
		b := byte(r.IntN(4)) // small numbers get further than large ones
		if r.IntN(4) == 0 {
			b = byte(r.Uint32())
		}
		body = append(body, b)
	}
	if body[0] == 0x23 { // what it can be fed, that it should not be fed here: endless drawing or crashing
		body = append(body[:2], "nonsense\x00x"...)
	}
	wire := link.EncodeFrame(body)
	switch r.IntN(6) {
	case 0:
		return damage(r, wire, r.IntN(4))
	case 1:
		return wire[:r.IntN(len(wire))]
	case 2:
		b := make([]byte, r.IntN(400))
		for i := range b {
			b[i] = byte(r.Uint32())
		}
		return b
	}
	return wire
}
