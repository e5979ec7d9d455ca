package link_test

import (
	"bytes"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/capturetest"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/twin"
)

var update = flag.Bool("update", false, "record the sessions with earlier agents again")

// A recording is a session with a device, step by step: `> kind arguments` to it and `< body` from it, in
// hex, without the tag, which the host draws anew each time.
type recording struct {
	steps []string
}

func (r *recording) add(direction string, body []byte) {
	r.steps = append(r.steps, fmt.Sprintf("%s %02x %x", direction, body[0], body[2:]))
}

// recorder is a Tap that writes down the frames of both directions.
func (r *recording) recorder(s link.Stream) link.Stream {
	var down []byte
	return &capturetest.Tap{Stream: s, Up: func(b []byte) []byte {
		body, _ := link.DecodeFrame(b[1 : len(b)-1])
		r.add(">", body)
		return b
	}, Down: func(b []byte) []byte {
		down = append(down, b...)
		for {
			between, rest, ok := bytes.Cut(down, []byte{0})
			if !ok {
				return b
			}
			if body, err := link.DecodeFrame(between); err == nil {
				r.add("<", body)
			}
			down = rest
		}
	}}
}

// A replay is a Stream that answers as the device of a recording did, as long as it is asked the same.
type replay struct {
	steps   []string
	waiting []byte
	now     time.Duration
}

func (r *replay) Send(p []byte) error {
	body, err := link.DecodeFrame(p[1 : len(p)-1])
	if err != nil {
		return err
	}
	got := fmt.Sprintf("> %02x %x", body[0], body[2:])
	if len(r.steps) == 0 {
		return fmt.Errorf("the recording is over, and the host says %s", got)
	}
	if got != r.steps[0] {
		return fmt.Errorf("the host says\n%s, recorded is\n%s", got, r.steps[0])
	}
	for r.steps = r.steps[1:]; len(r.steps) > 0 && r.steps[0][0] == '<'; r.steps = r.steps[1:] {
		answer, err := hex.DecodeString(strings.ReplaceAll(r.steps[0][2:], " ", ""))
		if err != nil {
			return err
		}
		r.waiting = append(r.waiting, link.EncodeFrame(append([]byte{answer[0], body[1]}, answer[1:]...))...)
	}
	return nil
}

func (r *replay) Receive(p []byte, wait time.Duration) (int, error) {
	n := copy(p, r.waiting)
	r.waiting = r.waiting[n:]
	if n == 0 {
		r.now += wait
	}
	return n, nil
}

func (r *replay) Now() time.Duration { return r.now }

func (r *replay) Close() error {
	if len(r.steps) > 0 {
		return fmt.Errorf("%d steps of the recording are left, first %s", len(r.steps), r.steps[0])
	}
	return nil
}

// session is what is asked of an earlier agent: hello, looks of new, known and changed screens, actions, and
// refusals.
func session(t *testing.T, s link.Stream) error {
	t.Helper()
	c := dial(t, s, link.Options{})
	if h := c.Hello(); h.Device != "panel" || h.Width != 40 || h.Height != 18 || !h.Has(link.CanDense) {
		t.Errorf("hello is %+v", h)
	}
	want := earlierScreen()
	first := look(t, c, soon).Frame
	same(t, "new screen", first, want)
	again := look(t, c, link.LookOptions{Still: soon.Still, Latest: soon.Latest, Known: []*capture.Frame{first}}).Frame
	same(t, "known screen", again, want)
	if err := c.Wait(t.Context(), 30*time.Millisecond); err != nil {
		t.Error(err)
	}
	if err := c.Feed(t.Context(), "temperature", "21"); !errors.Is(err, link.ErrUnsupported) {
		t.Errorf("feed: %v, want ErrUnsupported", err)
	}
	if err := c.Greet(t.Context()); err != nil { // forgets the screen: the golden differs in one tile
		t.Error(err)
	}
	golden := want.Clone()
	golden.Pix[0] ^= 0x55
	same(t, "changed tile", look(t, c, link.LookOptions{Still: soon.Still, Latest: soon.Latest, Known: []*capture.Frame{golden}}).Frame, want)
	return c.Close()
}

func earlierScreen() *capture.Frame {
	f := capture.NewFrame(40, 18, capture.RGB565LE)
	capturetest.Paint(f, 3)
	return f
}

// earlierAgent is the device end of protocol version 1 as it was before codec 3.
func earlierAgent(t *testing.T) link.Stream {
	t.Helper()
	wasm, err := os.ReadFile("testdata/v1/agent.wasm")
	if err != nil {
		t.Fatal(err)
	}
	p, err := twin.Load(t.Context(), wasm)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.Close() })
	d, err := p.Boot()
	if err != nil {
		t.Fatal(err)
	}
	f := earlierScreen()
	at, err := d.Call("panel_shape", uint64(f.Width), uint64(f.Height), uint64(f.Format), uint64(2*f.Width))
	if err != nil {
		t.Fatal(err)
	}
	if err := d.Write(uint32(at), f.Pix); err != nil {
		t.Fatal(err)
	}
	return d
}

// The host talks to agents that firmware was built with before: with the agent itself, kept as it was, and
// with what it said then, to the byte.
func TestEarlierAgents(t *testing.T) {
	if *update {
		var r recording
		if err := session(t, r.recorder(earlierAgent(t))); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile("testdata/v1/session.txt", []byte(strings.Join(r.steps, "\n")+"\n"), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if err := session(t, earlierAgent(t)); err != nil {
		t.Error(err)
	}
	text, err := os.ReadFile("testdata/v1/session.txt")
	if err != nil {
		t.Fatal(err)
	}
	steps := strings.Split(strings.TrimSpace(string(text)), "\n")
	if err := session(t, &replay{steps: steps}); err != nil {
		t.Error(err)
	}
	// A replay that has nothing to say against a host that asks less would prove nothing.
	if err := session(t, &replay{steps: append(steps, "> 10 00")}); err == nil {
		t.Error("a step was left over, and nobody said so")
	}
}
