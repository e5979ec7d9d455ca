package link_test

import (
	"bytes"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/capturetest"
	"github.com/fascia-bench/fascia/capture/link"
)

// The answer to an action is lost: the request comes again, the action must not.
func TestAnActionIsDoneOnce(t *testing.T) {
	lose := 0
	tap := &capturetest.Tap{Stream: device(t, small)}
	tap.Down = func(b []byte) []byte {
		if lose > 0 {
			lose--
			return nil
		}
		return b
	}
	c := dial(t, tap, link.Options{})
	for i := range 300 { // more than there are tags
		if i%3 == 0 {
			lose = 1
		}
		if err := c.Input(t.Context(), link.Event{Kind: link.Turn, A: 1}); err != nil {
			t.Fatal(err)
		}
	}
	gauges, err := c.List(t.Context(), link.Gauges)
	if err != nil || gauges[0] != (link.Item{Name: "inputs", Value: "300"}) {
		t.Errorf("300 inputs became %v, %v", gauges[0], err)
	}
	if resent, _ := c.Trouble(); resent < 100 {
		t.Errorf("%d requests were repeated, not 100", resent)
	}
}

// A tag is one byte: it comes round, but never to the last action's.
func TestTheLastActionsTagIsNotUsedAgain(t *testing.T) {
	c := dial(t, device(t, small), link.Options{})
	for between := 250; between < 262; between++ {
		if err := c.Input(t.Context(), link.Event{Kind: link.Turn, A: 1}); err != nil {
			t.Fatal(err)
		}
		for range between {
			if _, err := c.Observed(t.Context(), 0); err != nil {
				t.Fatal(err)
			}
		}
	}
	if gauges, err := c.List(t.Context(), link.Gauges); err != nil || gauges[0].Value != "12" {
		t.Errorf("12 inputs became %v, %v", gauges[0], err)
	}
}

func TestASilentDevice(t *testing.T) {
	dead := false
	tap := &capturetest.Tap{Stream: device(t, small), Up: func(b []byte) []byte {
		if dead {
			return nil
		}
		return b
	}}
	c := dial(t, tap, link.Options{})
	dead = true
	if _, err := c.Look(t.Context(), soon); !errors.Is(err, link.ErrSilent) {
		t.Errorf("a device that hears nothing: %v, want ErrSilent", err)
	}
	if _, err := link.Dial(t.Context(), tap, link.Options{}); !errors.Is(err, link.ErrSilent) {
		t.Errorf("dial: %v, want ErrSilent", err)
	}
	dead = false
	same(t, "awake again", look(t, c, soon).Frame, small.NewFrame())
}

// A look given up half way leaves a job at the device and pieces on the line; neither may get
// into what is asked next.
func TestAnAbandonedJob(t *testing.T) {
	deaf := false
	tap := &capturetest.Tap{Stream: device(t, small)}
	tap.Down = func(b []byte) []byte {
		if deaf {
			return nil
		}
		return b
	}
	c := dial(t, tap, link.Options{Tries: 1})
	feed(t, c, "slow", "30")
	feed(t, c, "paint", "7")
	deaf = true
	if _, err := c.Look(t.Context(), soon); !errors.Is(err, link.ErrSilent) {
		t.Fatalf("a look into a hole: %v, want ErrSilent", err)
	}
	deaf = false
	if err := c.Input(t.Context(), link.Event{Kind: link.Turn, A: 1}); err != nil {
		t.Fatal(err)
	}
	c2 := dial(t, tap, link.Options{})
	want := small.NewFrame()
	capturetest.Paint(want, 7)
	same(t, "after an abandoned look", look(t, c2, soon).Frame, want)
}

func TestLogLinesPassBetweenFrames(t *testing.T) {
	var lines []string
	c := dial(t, device(t, small), link.Options{Log: func(l link.LogLine) { lines = append(lines, l.Text) }})
	feed(t, c, "log", "7")
	for seed := range uint32(20) {
		want := small.NewFrame()
		capturetest.Paint(want, seed)
		feed(t, c, "paint", fmt.Sprint(seed))
		same(t, "with log", look(t, c, soon).Frame, want)
	}
	if len(lines) < 20 || lines[0] != "pipe device: boot" {
		t.Fatalf("%d lines: %q", len(lines), lines)
	}
	for i, l := range lines[1:] {
		var n, ms int
		if _, err := fmt.Sscanf(l, "line %d at %d ms", &n, &ms); err != nil || n != i+1 {
			t.Fatalf("line %d is %q", i+1, l)
		}
	}
}

// A boot loader prints at another speed, at the start and after each reset: the bytes that arrive so are any, zeros among them. They are
// counted, none is taken for a frame, and the first look and the log after them are right.
func TestBootTextAtAnotherSpeed(t *testing.T) {
	for seed := range uint64(20) {
		r := rand.New(rand.NewPCG(seed, 9))
		rubbish := func() []byte {
			b := make([]byte, 200+r.IntN(3_000))
			for i := range b {
				if b[i] = byte(r.Uint32()) | 0x80; r.IntN(12) == 0 { // a slower line's bits make long runs of equal ones
					b[i] = 0
				}
			}
			return b
		}
		var lines []string
		before := true
		tap := &capturetest.Tap{Stream: device(t, small), Down: func(b []byte) []byte {
			if before || bytes.Contains(b, []byte("pipe device: boot")) {
				before = false
				return append(rubbish(), b...)
			}
			return b
		}}
		c := dial(t, tap, link.Options{Log: func(l link.LogLine) { lines = append(lines, l.Text) }})
		for restart := range 3 {
			paint := uint32(seed) + uint32(restart)
			feed(t, c, "paint", fmt.Sprint(paint))
			want := small.NewFrame()
			capturetest.Paint(want, paint)
			same(t, fmt.Sprintf("seed %d, start %d", seed, restart), look(t, c, soon).Frame, want)
			feed(t, c, "log", "0")
			if err := c.Reset(t.Context(), 5*time.Second); err != nil {
				t.Fatal(err)
			}
		}
		if n := strings.Count(strings.Join(lines, "\n"), "a line"); n != 3 {
			t.Errorf("seed %d: %d of 3 lines of the log: %q", seed, n, lines)
		}
		if _, noise := c.Trouble(); noise < 600 {
			t.Errorf("seed %d: %d bytes were counted as noise", seed, noise)
		}
	}
}

// A log line printed into the middle of a frame is taken out again, and neither is lost.
func TestALogLineInsideAFrameIsRescued(t *testing.T) {
	var lines []string
	n := &capturetest.Noise{LogEvery: 2000, Rand: rand.New(rand.NewPCG(5, 6))}
	tap := &capturetest.Tap{Stream: device(t, small), Down: n.DamageAndLog}
	c := dial(t, tap, link.Options{Log: func(l link.LogLine) { lines = append(lines, l.Text) }})
	for seed := range uint32(60) {
		want := small.NewFrame()
		capturetest.Paint(want, seed)
		feed(t, c, "paint", fmt.Sprint(seed))
		same(t, "with log in it", look(t, c, soon).Frame, want)
	}
	found := 0
	for _, l := range lines {
		if slices.Contains(n.Logged, l) {
			found++
		}
	}
	// Only where two lines fell into one frame, at about one frame in ten, are both lost.
	resent, noise := c.Trouble()
	t.Logf("%d lines cut in, %d handed on whole; %d requests repeated, %d bytes were neither", len(n.Logged), found, resent, noise)
	if len(n.Logged) < 50 || found < len(n.Logged)*8/10 {
		t.Errorf("of %d lines %d were handed on whole", len(n.Logged), found)
	}
}
