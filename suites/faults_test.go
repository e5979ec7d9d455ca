package suites

import (
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/suites/record"
)

// A golden that is altered while walks are walked is nobody's approval; put back, it counts again.
func TestGoldenAlteredMeanwhile(t *testing.T) {
	s := newSoak(t, 1, 1)
	s.approve(t)
	w := s.plan.Walks[0]
	l := w.Looks()[0]
	file := filepath.Join(s.judge.goldens, s.plan.Bench.Target, w.Slug, l.File+".png")
	was, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	other := image.NewNRGBA(image.Rect(0, 0, 320, 240))
	other.Set(3, 4, color.White)
	take := func() record.Look {
		t.Helper()
		d := s.driver(w)
		if err := s.begin(t.Context(), d, w); err != nil {
			t.Fatal(err)
		}
		for _, step := range w.Steps {
			if at, ok := step.Do.(TakeLook); ok {
				rec, err := s.judge.look(t.Context(), d, w, at, step.line())
				if err != nil {
					t.Fatal(err)
				}
				return rec
			}
			if err := d.take(t.Context(), step); err != nil {
				t.Fatal(err)
			}
		}
		panic("no look")
	}
	for _, tt := range []struct {
		name  string
		spoil func() error
		want  record.Verdict
		says  string
	}{
		{"as approved", func() error { return nil }, record.Same, ""},
		{"another picture", func() error { return picture.WritePNG(file, other) }, record.Unapproved, "but soak approved"},
		{"no picture", func() error { return os.WriteFile(file, []byte("<html>"), 0o666) }, record.Unapproved, "golden"},
		{"gone", func() error { return os.Remove(file) }, record.Unapproved, "the file is not there"},
		{"put back", func() error { return os.WriteFile(file, was, 0o666) }, record.Same, ""},
	} {
		if err := tt.spoil(); err != nil {
			t.Fatal(err)
		}
		if rec := take(); rec.Verdict != tt.want || !strings.Contains(rec.Why, tt.says) {
			t.Errorf("%s: %s, %q; want %s, %q", tt.name, rec.Verdict, rec.Why, tt.want, tt.says)
		}
	}
}

// A capture that cannot be kept is no capture, and says why.
func TestCaptureThatCannotBeKept(t *testing.T) {
	s := newSoak(t, 1, 2)
	w := s.plan.Walks[0]
	// A file where the walk's folder should be: as good as a disk that takes no more.
	if err := os.WriteFile(filepath.Join(s.judge.runDir, w.Slug), nil, 0o666); err != nil {
		t.Fatal(err)
	}
	d := s.driver(w)
	if err := s.begin(t.Context(), d, w); err != nil {
		t.Fatal(err)
	}
	_, err := s.judge.look(t.Context(), d, w, w.Looks()[0], 1)
	if err == nil || !strings.Contains(err.Error(), "keep a capture") {
		t.Errorf("the look says %v", err)
	}
}

// A firmware that floods its log does not fill the host's memory, and what is asked of the log still holds.
func TestLogBookIsBounded(t *testing.T) {
	b := &logBook{dies: []string{"panic*"}}
	line := func(n int) link.LogLine { return link.LogLine{At: time.Duration(n), Text: fmt.Sprint("line ", n)} }
	for n := range 10 * bookKeeps {
		b.add(line(n))
		if len(b.lines) > 2*bookKeeps {
			t.Fatalf("%d lines are kept", len(b.lines))
		}
	}
	if b.count() != 10*bookKeeps {
		t.Errorf("%d lines counted, of %d", b.count(), 10*bookKeeps)
	}
	mark := b.count()
	b.add(line(mark))
	if got := b.after(mark); len(got) != 1 || got[0].Text != line(mark).Text {
		t.Errorf("after the mark stand %v", got)
	}
	if got := b.after(b.count()); len(got) != 0 {
		t.Errorf("after the last line stand %v", got)
	}
	if got := b.after(3); len(got) != len(b.lines) {
		t.Errorf("of lines that are gone, %d are kept", len(got))
	}
	if got := b.tail(2); len(got) != 2 || !strings.HasSuffix(got[1], line(mark).Text) {
		t.Errorf("the tail is %q", got)
	}
	if b.died() != nil {
		t.Error("nobody died")
	}
	b.add(link.LogLine{Text: "panic: stack"})
	if err := b.died(); err == nil || !strings.Contains(err.Error(), "panic: stack") {
		t.Errorf("a death in the flood: %v", err)
	}
}

// Every run has a folder of its own, whatever the host's clock says, and however many begin at once.
func TestEveryRunHasAFolder(t *testing.T) {
	s := newSoak(t, 1, 3)
	at := time.Date(2031, 5, 4, 9, 30, 0, 0, time.UTC)
	seen := map[string]bool{}
	for i, now := range []time.Time{at, at, at.Add(-time.Hour), at, {}, at.AddDate(60, 0, 0)} {
		dir, err := NewRun(s.plan, now)
		if err != nil {
			t.Fatal(err)
		}
		if seen[dir] {
			t.Errorf("run %d shares %s", i, dir)
		}
		seen[dir] = true
	}
	base := filepath.Join(s.plan.Bench.Dir, RunsDir)
	if err := errors.Join(os.RemoveAll(base), os.WriteFile(base, nil, 0o666)); err != nil {
		t.Fatal(err)
	}
	if _, err := NewRun(s.plan, at); err == nil || !strings.Contains(err.Error(), "make the run's folder") {
		t.Errorf("with a file in the folder's place: %v", err)
	}
}

// looping is a twin that restarts by itself again and again: before every third request.
type looping struct {
	*sick
	asked int
}

func (l *looping) Send(p []byte) error {
	if l.asked++; l.asked%3 == 0 {
		if err := l.restart(); err != nil {
			return err
		}
	}
	return l.sick.Send(p)
}

// A device that restarts in a loop ends each of its walks without a capture, and none of them hangs; when it has come to rest,
// the next walk is as ever.
func TestADeviceThatRestartsInALoop(t *testing.T) {
	s := newSoak(t, 1, 5)
	s.approve(t)
	w := s.plan.Walks[0]
	walk := func() (rec record.Look, err error) {
		d := s.driver(w)
		if err := s.begin(t.Context(), d, w); err != nil {
			return rec, err
		}
		for _, step := range w.Steps {
			if at, ok := step.Do.(TakeLook); ok {
				return s.judge.look(t.Context(), d, w, at, step.line())
			}
			if err := d.take(t.Context(), step); err != nil {
				return rec, err
			}
		}
		panic("no look")
	}
	s.dev.line.Stream = &looping{sick: s.dev.sick}
	for range 3 {
		var restarted *link.RestartError
		if rec, err := walk(); !errors.As(err, &restarted) || !strings.Contains(err.Error(), "the device restarted") {
			t.Errorf("in the loop: %s, %v", rec.Verdict, err)
		}
	}
	s.dev.line.Stream = s.dev.sick
	if rec, err := walk(); err != nil || rec.Verdict != record.Same {
		t.Errorf("come to rest: %s, %v", rec.Verdict, err)
	}
}

// restless is a device on whose panel a mark of 5x4 at 10,20 blinks for ever.
type restless struct {
	*soaked
	looks int
}

func (r *restless) Look(ctx context.Context, opt link.LookOptions) (link.Look, error) {
	l, err := r.soaked.Look(ctx, opt)
	if err != nil {
		return l, err
	}
	if r.looks++; r.looks%2 == 1 {
		f := l.Frame.Clone()
		for y := 20; y < 24; y++ {
			for x := 10; x < 15; x++ {
				f.Pix[2*(320*y+x)] ^= 0xff
			}
		}
		l.Frame, l.Hash = f, link.HashFrame(f)
	}
	l.Moving = opt.Latest > 0
	return l, nil
}

// A look at a screen that never stands still is taken at the latest moment, kept, and says what moves; it is not the same.
func TestALookAtAScreenThatNeverStandsStill(t *testing.T) {
	s := newSoak(t, 1, 6)
	s.approve(t)
	w := s.plan.Walks[0]
	d := s.driver(w)
	if err := s.begin(t.Context(), d, w); err != nil {
		t.Fatal(err)
	}
	d.dev = &restless{soaked: s.dev}
	rec, err := s.judge.look(t.Context(), d, w, w.Looks()[0], 1)
	if err != nil || !rec.Moving || rec.Verdict != record.Differs || !strings.Contains(rec.Why, "still moving after") || !strings.Contains(rec.Why, "5x4 at 10,20") {
		t.Errorf("%s, moving %v, %q, %v", rec.Verdict, rec.Moving, rec.Why, err)
	}
	if _, err := picture.Read(filepath.Join(s.judge.runDir, filepath.FromSlash(rec.Capture))); err != nil {
		t.Errorf("its picture: %v", err)
	}
}

// A run that was cut off is not completed with looks at another build.
func TestARunOfAnotherBuildIsNotTakenUp(t *testing.T) {
	s := newSoak(t, 1, 7)
	s.Build = s.dev.Hello().Build
	if err := s.check(t.Context()); err != nil {
		t.Errorf("the same build: %v", err)
	}
	s.Build = "another"
	if err := s.check(t.Context()); err == nil || !strings.Contains(err.Error(), `the run to take up was of build "another"`) {
		t.Errorf("another build: %v", err)
	}
}
