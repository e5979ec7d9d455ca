package suites

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/bench/yamlfile"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/suites/record"
)

// scripted is a device that notes what it is given and answers as a test says.
type scripted struct {
	Device // what a test does not script panics
	book   *logBook
	now    time.Duration
	got    []link.Event
	prints map[int]string // after so many events it prints a line
	moves  time.Duration  // until then its picture moves
	feeds  map[string]error
	looks  int
	hung   bool         // it does not answer a reset
	power  func() error // takes its power and gives it back; nil: cannot
}

func (s *scripted) Now() time.Duration { return s.now }

func (s *scripted) Input(_ context.Context, e link.Event) error {
	s.now += e.After
	s.got = append(s.got, e)
	if text, ok := s.prints[len(s.got)]; ok {
		s.book.lines = append(s.book.lines, link.LogLine{At: s.now, Text: text})
	}
	return nil
}

func (s *scripted) Wait(_ context.Context, d time.Duration) error {
	s.now += d
	return nil
}

func (s *scripted) Settle(_ context.Context, still, latest time.Duration) (bool, error) {
	until := s.now + latest
	if quiet := max(s.now, s.moves) + still; quiet <= until {
		s.now = quiet
		return false, nil
	}
	s.now = until
	return true, nil
}

func (s *scripted) Glance(ctx context.Context, still, latest time.Duration) (uint64, bool, error) {
	moving, err := s.Settle(ctx, still, latest)
	return 0, moving, err
}

// Look shows a panel of 64x48 on which a square of 20x20 at 30,10 blinks while the picture moves.
func (s *scripted) Look(_ context.Context, o link.LookOptions) (link.Look, error) {
	s.looks++
	f := capture.NewFrame(64, 48, capture.Grey8)
	if s.now < s.moves && s.looks%2 == 1 {
		for y := 10; y < 30; y++ {
			for x := 30; x < 50; x++ {
				f.Pix[y*64+x] = 255
			}
		}
	}
	return link.Look{Frame: f, Hash: link.HashFrame(f)}, nil
}

func (s *scripted) Feed(_ context.Context, name, value string) error {
	return s.feeds[name+" "+value]
}

// walkOf reads steps and returns them with a driver on a scripted device.
func walkOf(t *testing.T, s *scripted, steps string) (*Walk, *driver, *[]record.Expectation) {
	t.Helper()
	s.book = &logBook{}
	var seen []record.Expectation
	d := &driver{dev: s, log: s.book, expect: func(what string, line int, r record.Result, why string) {
		seen = append(seen, record.Expectation{What: what, Line: line, Result: r, Why: why})
	}}
	root, err := yamlfile.Parse("w.yaml", []byte(steps))
	if err != nil {
		t.Fatal(err)
	}
	items, err := root.List()
	if err != nil {
		t.Fatal(err)
	}
	w := newWalk("steps", nil)
	for _, item := range items {
		step, err := w.readStep(item)
		if err != nil {
			t.Fatal(err)
		}
		w.Steps = append(w.Steps, step)
	}
	return w, d, &seen
}

func takeAll(t *testing.T, w *Walk, d *driver) {
	t.Helper()
	for _, s := range w.Steps {
		if err := d.take(t.Context(), s); err != nil {
			t.Fatal(err)
		}
	}
}

func TestInputsBecomeEvents(t *testing.T) {
	s := &scripted{}
	w, d, _ := walkOf(t, s, `
- tap: [10, 20]
- hold: {at: [1, 2], for: 900ms}
- drag: {from: [0, 0], to: [100, 50], over: 100ms}
- key: [ctrl, enter]
- turn: -2
- type: "grün"
`)
	takeAll(t, w, d)
	ms := time.Millisecond
	want := []link.Event{
		{Kind: link.TouchDown, A: 10, B: 20}, {Kind: link.TouchUp, A: 10, B: 20, After: 60 * ms},
		{Kind: link.TouchDown, A: 1, B: 2}, {Kind: link.TouchUp, A: 1, B: 2, After: 900 * ms},
		{Kind: link.TouchDown},
		{Kind: link.TouchMove, A: 20, B: 10, After: 20 * ms}, {Kind: link.TouchMove, A: 40, B: 20, After: 20 * ms},
		{Kind: link.TouchMove, A: 60, B: 30, After: 20 * ms}, {Kind: link.TouchMove, A: 80, B: 40, After: 20 * ms},
		{Kind: link.TouchMove, A: 100, B: 50, After: 20 * ms}, {Kind: link.TouchUp, A: 100, B: 50, After: 20 * ms},
		{Kind: link.KeyDown, A: 7, B: 0xe0}, {Kind: link.KeyDown, A: 7, B: 0x28},
		{Kind: link.KeyUp, A: 7, B: 0x28, After: 60 * ms}, {Kind: link.KeyUp, A: 7, B: 0xe0},
		{Kind: link.Turn, A: -1}, {Kind: link.Turn, A: -1, After: 20 * ms},
		{Kind: link.Text, Text: "grün"},
	}
	if len(s.got) != len(want) {
		t.Fatalf("%d events, want %d: %+v", len(s.got), len(want), s.got)
	}
	for i := range want {
		if s.got[i] != want[i] {
			t.Errorf("event %d = %+v, want %+v", i, s.got[i], want[i])
		}
	}
}

func TestLogLooksBackToTheLastInput(t *testing.T) {
	tests := []struct {
		name, why, steps string
		prints           map[int]string
		want             record.Result
	}{
		{"printed", "the tap printed it", "- tap: [1, 1]\n- log: fan on", map[int]string{2: "fan on"}, record.Met},
		{"within a line", "a pattern is part of a line", "- tap: [1, 1]\n- log: \"an o\"", map[int]string{2: "fan on"}, record.Met},
		{"star", "* stands for any text", "- tap: [1, 1]\n- log: \"lamp * %\"", map[int]string{2: "lamp 64 %"}, record.Met},
		{"star in order", "parts come in their order", "- tap: [1, 1]\n- log: \"64*lamp\"", map[int]string{2: "lamp 64"}, record.Missed},
		{"before", "the first tap printed it, not the second", "- tap: [1, 1]\n- tap: [2, 2]\n- log: fan on", map[int]string{2: "fan on"}, record.Missed},
		{"silence", "nothing was printed", "- tap: [1, 1]\n- log: fan on", nil, record.Missed},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := &scripted{prints: tt.prints}
			w, d, seen := walkOf(t, s, tt.steps)
			takeAll(t, w, d)
			if len(*seen) != 1 || (*seen)[0].Result != tt.want {
				t.Errorf("got %+v, want %s: %s", *seen, tt.want, tt.why)
			}
		})
	}
}

func TestMissedLogSaysWhatWasPrinted(t *testing.T) {
	s := &scripted{prints: map[int]string{2: "fan off"}}
	w, d, seen := walkOf(t, s, "- tap: [1, 1]\n- log: fan on")
	takeAll(t, w, d)
	if why := (*seen)[0].Why; !strings.Contains(why, `"fan off"`) {
		t.Errorf("why = %q", why)
	}
}

func TestWithinMeasuresFromTheInput(t *testing.T) {
	tests := []struct {
		name, why, steps string
		moves            time.Duration // after the tap's 60 ms
		want             record.Result
	}{
		{"quick", "it was still before the time was over", "- tap: [1, 1]\n- within: 300ms", 200 * time.Millisecond, record.Met},
		{"slow", "it still moved when the time was over", "- tap: [1, 1]\n- within: 300ms", 900 * time.Millisecond, record.Missed},
		{"waited", "what a wait used up counts as well", "- tap: [1, 1]\n- wait: 250ms\n- within: 300ms", 900 * time.Millisecond, record.Missed},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := &scripted{moves: tt.moves}
			w, d, seen := walkOf(t, s, tt.steps)
			takeAll(t, w, d)
			if len(*seen) != 1 || (*seen)[0].Result != tt.want {
				t.Errorf("got %+v, want %s: %s", *seen, tt.want, tt.why)
			}
		})
	}
}

func TestSettleThatFailsIsMissed(t *testing.T) {
	s := &scripted{moves: time.Minute}
	w, d, seen := walkOf(t, s, "- settle: 2s")
	takeAll(t, w, d)
	if len(*seen) != 1 || (*seen)[0].Result != record.Missed || !strings.Contains((*seen)[0].Why, "still moving after 2s: 20x20 at 30,10; hold the clock") {
		t.Errorf("got %+v", *seen)
	}
}

func TestRefusedFeedSaysWhere(t *testing.T) {
	s := &scripted{feeds: map[string]error{"temperature warm": link.ErrBadValue}}
	w, d, _ := walkOf(t, s, "- feed: {temperature: 21.4}\n- feed: {temperature: warm}")
	if err := d.take(t.Context(), w.Steps[0]); err != nil {
		t.Fatal(err)
	}
	err := d.take(t.Context(), w.Steps[1])
	if !errors.Is(err, link.ErrBadValue) || !strings.Contains(err.Error(), "w.yaml:2: feed temperature warm") {
		t.Errorf("got %v", err)
	}
}

func (s *scripted) Hello() link.Hello { return link.Hello{} }
func (s *scripted) CanReset() bool    { return true }
func (s *scripted) HasPower() bool    { return s.power != nil }

func (s *scripted) Reset(context.Context, time.Duration) error {
	if s.hung {
		return link.ErrSilent
	}
	return nil
}

func (s *scripted) PowerCycle(context.Context, time.Duration) error { return s.power() }

func TestHungDeviceGetsItsPowerAnew(t *testing.T) {
	s := &scripted{hung: true}
	w, d, _ := walkOf(t, s, "- wait: 1s")
	var notes []string
	d.note = func(text string) { notes = append(notes, text) }
	if err := d.begin(t.Context(), w); !errors.Is(err, link.ErrSilent) {
		t.Errorf("without a power switch: %v", err)
	}
	cycles := 0
	s.power = func() error { cycles++; return nil }
	if err := d.begin(t.Context(), w); err != nil || cycles != 1 || len(notes) != 1 {
		t.Errorf("with one: %v, %d cycles, notes %q", err, cycles, notes)
	}
	s.power = func() error { cycles++; return link.ErrSilent }
	if err := d.begin(t.Context(), w); !errors.Is(err, link.ErrSilent) || cycles != 2 {
		t.Errorf("a device that stays silent is not cycled for ever: %v, %d cycles", err, cycles)
	}
}

func TestDeathInTheLogEndsTheWalk(t *testing.T) {
	s := &scripted{}
	w, d, _ := walkOf(t, s, "- wait: 1s\n- tap: [1, 1]")
	s.book.dies = []string{"assert*failed"}
	s.book.add(link.LogLine{Text: "all is well"})
	if err := d.take(t.Context(), w.Steps[0]); err != nil {
		t.Fatal(err)
	}
	s.book.add(link.LogLine{Text: "assert x > 0 failed"})
	if err := d.take(t.Context(), w.Steps[1]); err == nil || !strings.Contains(err.Error(), `the device restarted: it printed "assert x > 0 failed"`) {
		t.Errorf("got %v", err)
	}
	if err := d.begin(t.Context(), w); err != nil || s.book.died() != nil {
		t.Errorf("after a reset the death is past: %v, %v", err, s.book.died())
	}
}

func TestExecCallsTheBench(t *testing.T) {
	s := &scripted{}
	root, err := yamlfile.Parse("w.yaml", []byte("- exec: door\n- exec: rm\n"))
	if err != nil {
		t.Fatal(err)
	}
	items, _ := root.List()
	w := &Walk{commands: map[string]string{"door": "./door open"}}
	step, err := w.readStep(items[0])
	if err != nil {
		t.Fatal(err)
	}
	if _, err := w.readStep(items[1]); err == nil || !strings.Contains(err.Error(), `w.yaml:2:9: the bench has no command "rm"`) {
		t.Errorf("a command that bench.yaml does not name: %v", err)
	}
	called := ""
	d := &driver{dev: s, log: &logBook{}, call: func(_ context.Context, name string) error { called = name; return nil }}
	if err := d.take(t.Context(), step); err != nil || called != "door" {
		t.Errorf("called %q, %v", called, err)
	}
}
