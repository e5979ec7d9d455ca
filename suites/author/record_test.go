package author

import (
	"context"
	"image"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/suites"
)

const ms = time.Millisecond

// script makes observed events of lines as suites.ReadMotions takes them.
func script(t *testing.T, text string) []observed {
	t.Helper()
	hands, err := suites.ReadMotions("script", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	var events []observed
	var at time.Duration
	for _, h := range hands {
		at += h.After
		events = append(events, observed{at, h.Event})
	}
	return events
}

func TestGestures(t *testing.T) {
	for _, tt := range []struct{ name, hands, want, why string }{
		{"tap", "0s down 10 20\n20ms move 13 24\n80ms up 13 24", "tap: [10, 20]", "a finger strays; where it came down counts"},
		{"hold", "0s down 10 20\n780ms up 10 21", "hold: {at: [10, 20], for: 780ms}", "half a second is no tap"},
		{"drag", "0s down 10 20\n100ms move 30 20\n100ms move 60 20\n20ms up 62 20", "drag: {from: [10, 20], to: [62, 20], over: 220ms}", "it moved"},
		{"curve", "0s down 0 0\n100ms move 50 40\n100ms up 100 0", "drag: {from: [0, 0], to: [100, 0], over: 200ms} # the finger went by a curve, 40 px off this straight line", "a walk's drag is straight"},
		{"there and back", "0s down 0 0\n100ms move 50 0\n100ms up 0 0", "drag: {from: [0, 0], to: [0, 0], over: 200ms} # the finger went by a curve, 50 px off this straight line", "it is no tap"},
		{"key", "0s press enter\n90ms release enter", "key: enter", ""},
		{"chord", "0s press left_ctrl\n50ms press a\n60ms release a\n30ms release left_ctrl", "key: [left_ctrl, a]", "one is held while the other is pressed"},
		{"fast typing", "0s press a\n50ms press b\n20ms release a\n30ms release b", "key: a; key: b", "letters overlap when people type fast"},
		{"two arrows", "0s press left\n50ms press right\n20ms release left\n30ms release right", "key: [left, right]", "on a device with four keys that is meant"},
		{"repeat", "0s press left\n300ms press left\n30ms press left\n20ms release left", "key: left", "a held key that repeats is one press"},
		{"long key", "0s press left\n1s release left", "key: left # the key was held for 1s; a walk presses it shortly", "a walk cannot say so"},
		{"turn", "0s turn 1\n100ms turn 1\n100ms turn 2", "turn: 4", "detents in one go"},
		{"turn back", "0s turn 1\n100ms turn -1\n600ms turn -1", "turn: 1; turn: -1; turn: -1", "another way, and another time"},
		{"turn around a tap", "0s turn 1\n50ms down 1 1\n50ms up 1 1\n50ms turn 1", "turn: 1; tap: [1, 1]; turn: 1", "order is kept"},
		{"only the end", "0s up 10 20\n0s move 3 3\n0s release enter", "", "what began before anybody looked is left out"},
	} {
		acts, strange := gestures(script(t, tt.hands), key{}, nil)
		var got []string
		for _, a := range acts {
			got = append(got, strings.Join(append([]string{a.step}, a.notes...), " # "))
		}
		if strings.Join(got, "; ") != tt.want || len(strange) != 0 {
			t.Errorf("%s: %s, strange %v; want %s: %s", tt.name, strings.Join(got, "; "), strange, tt.want, tt.why)
		}
	}
}

func TestWhatNoStepCanDoIsTold(t *testing.T) {
	r := &Recording{lost: 3, events: []observed{
		{0, link.Event{Kind: link.TouchDown, A: 1, B: 1}}, {10 * ms, link.Event{Kind: link.TouchDown, A: 9, B: 9, C: 1}},
		{20 * ms, link.Event{Kind: link.TouchUp, A: 9, B: 9, C: 1}}, {30 * ms, link.Event{Kind: link.TouchUp, A: 1, B: 1}},
		{40 * ms, link.Event{Kind: link.Point, A: 1}}, {50 * ms, link.Event{Kind: link.KeyDown, A: 7, B: 1}}, {60 * ms, link.Event{Kind: link.KeyUp, A: 7, B: 1}},
	}}
	text, err := r.Walk(Setting{Walk: "x", Device: "d"})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"# Missing: 3 events", "# Missing: 1 touches with a second finger", "# Missing: 1 moves of a pointer",
		"# Missing: 1 keys without a name", "  - tap: [1, 1]\n", "Its clock ran"} {
		if !strings.Contains(text, want) {
			t.Errorf("the walk lacks %q:\n%s", want, text)
		}
	}
}

func TestPausesStandWhereTheyMatter(t *testing.T) {
	input := func(from, to time.Duration) act { return act{from: from, to: to} }
	touch := func(from, to time.Duration, x int) act {
		return act{from: from, to: to, touch: true, at: image.Pt(x, 0)}
	}
	look := func(at time.Duration) act { return act{from: at, to: at, look: true} }
	for _, tt := range []struct {
		name, why string
		changes   []time.Duration
		acts      []act
		want      string
	}{
		{"nothing changed", "a person's pause alone is not the walk's", nil, []act{input(0, 0), input(3000*ms, 3000*ms)}, "|"},
		{"changed at once", "the person saw the new screen first", []time.Duration{20 * ms, 80 * ms}, []act{input(0, 0), input(900*ms, 900*ms)}, "|settle"},
		{"before a look", "a look settles by itself", []time.Duration{20 * ms}, []act{input(0, 0), look(900 * ms)}, "|"},
		{"by itself", "it rested and went on: settle would be too early", []time.Duration{20 * ms, 1500 * ms}, []act{input(0, 0), look(2500 * ms)}, "|wait: 1.6s"},
		{"by itself, after a look", "the look took the person 1 s and the walk nothing: counted from the input",
			[]time.Duration{20 * ms, 1500 * ms}, []act{input(0, 0), look(1000 * ms), input(2500*ms, 2500*ms)}, "||wait: 1.6s"},
		{"waited for once", "what a wait covered is not waited for again", []time.Duration{1500 * ms}, []act{input(0, 0), look(2000 * ms), look(4000 * ms)}, "|wait: 1.6s|"},
		{"its own change", "a change in the moment of an input is its own", []time.Duration{2980 * ms}, []act{input(0, 0), input(3000*ms, 3000*ms)}, "|"},
		{"double tap", "given faster it would be another gesture", nil, []act{touch(0, 50*ms, 9), touch(1000*ms, 1050*ms, 12)}, "|wait: 500ms"},
		{"meant as a double tap", "kept as it was", nil, []act{touch(0, 50*ms, 9), touch(200*ms, 250*ms, 12)}, "|wait: 150ms"},
		{"other place", "nobody takes that for a double tap", nil, []act{touch(0, 50*ms, 9), touch(200*ms, 250*ms, 90)}, "|"},
	} {
		p := &pacer{changes: tt.changes}
		var got []string
		for _, a := range tt.acts {
			got = append(got, p.pause(a))
		}
		if strings.Join(got, "|") != tt.want {
			t.Errorf("%s: %s, want %s: %s", tt.name, strings.Join(got, "|"), tt.want, tt.why)
		}
	}
}

// A fake line with a delay: what the device saw stands at its time, not when it was fetched, and lost
// events are counted.
type fakeDevice struct {
	now  time.Duration
	seen []link.Observation
	last time.Duration // change of the picture
}

func (d *fakeDevice) Now() time.Duration                  { return d.now }
func (d *fakeDevice) Observe(context.Context, bool) error { return nil }
func (d *fakeDevice) Listen(_ context.Context, w time.Duration) error {
	d.now += w
	return nil
}

func (d *fakeDevice) Settle(_ context.Context, still, latest time.Duration) (bool, error) {
	d.now += 3 * ms // there and back
	if d.last > d.now || d.now-d.last >= still {
		return false, nil
	}
	d.now += min(latest, still-(d.now-d.last))
	return d.now-d.last < still, nil
}

func (d *fakeDevice) Observed(_ context.Context, after uint16) (out []link.Observation, err error) {
	d.now += 3 * ms
	for _, o := range d.seen {
		if o.Number > after && o.At+5*time.Second <= d.now { // the device's clock is 5 s behind
			out = append(out, o)
		}
	}
	return out[max(0, len(out)-8):], nil
}

func TestWatch(t *testing.T) {
	d := &fakeDevice{now: 7 * time.Second, last: 7400 * ms}
	at := func(n uint16, host time.Duration) link.Observation {
		return link.Observation{Number: n, At: host - 5*time.Second, Event: link.Event{Kind: link.Turn, A: 1}}
	}
	d.seen = []link.Observation{at(1, 7100*ms), at(2, 7250*ms), at(3, 8*time.Second), at(9, 9*time.Second)}
	r := &Recording{}
	if err := r.Watch(t.Context(), d, false, func() (bool, error) { return d.now > 10*time.Second, nil }); err != nil {
		t.Fatal(err)
	}
	if len(r.events) != 4 || r.lost != 5 {
		t.Fatalf("%d events, %d lost; want 4 and 5", len(r.events), r.lost)
	}
	for i, want := range []time.Duration{7100 * ms, 7250 * ms, 8 * time.Second, 9 * time.Second} {
		if off := r.events[i].at - want; off < 0 || off > 110*ms {
			t.Errorf("event %d stands %v from where it was", i+1, off)
		}
	}
	near := 0
	for _, c := range r.changes {
		if off := (c - 7400*ms).Abs(); off < 20*ms {
			near++
		}
	}
	if near == 0 || len(r.changes) > 2 {
		t.Errorf("changes at %v, want one near 7.4 s", r.changes)
	}
}

func TestBadHands(t *testing.T) {
	for _, text := range []string{"down 1 2", "1s", "-1s down 1 2", "1s down 1", "1s down a 2", "1s turn x", "1s turn", "1s press moon", "1s wave"} {
		if _, err := suites.ReadMotions("h", strings.NewReader("\n"+text)); err == nil || !strings.HasPrefix(err.Error(), "h:2: ") {
			t.Errorf("%q: %v, want an error at h:2", text, err)
		}
	}
}

func TestLookNames(t *testing.T) {
	r := &Recording{}
	for _, n := range []string{"home", "", "Home", "öl", "oel"} {
		r.Mark(0, n)
	}
	text, err := r.Walk(Setting{Walk: "x"})
	if err != nil {
		t.Fatal(err)
	}
	want := "  - look: home\n  - look: look 2\n  - look: Home 2\n  - look: \"öl\"\n  - look: oel 2\n"
	if !strings.HasSuffix(text, want) {
		t.Errorf("looks:\n%s\nwant\n%s", text, want)
	}
	if _, err := (&Recording{}).Walk(Setting{Walk: "x"}); err == nil {
		t.Error("a walk of nothing was written")
	}
}
