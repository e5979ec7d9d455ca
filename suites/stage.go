package suites

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"github.com/onsi/ginkgo/v2"

	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/suites/record"
)

// A stage is a walk being walked, spec by spec.
type stage struct {
	*session
	w     *Walk
	d     *driver
	done  record.Walk
	began time.Time
	bytes int64
	dead  error // why the walk broke off
	next  int   // step to take next
}

// describe makes the specs of a walk: one a look, and one for the steps after the last.
func (s *session) describe(w *Walk) {
	st := &stage{session: s, w: w, d: s.driver(w)}
	st.done = record.Walk{Walk: w.Name, File: relative(s.plan.Bench.Dir, w.File), Hash: w.Hash}
	for _, l := range w.Looks() {
		if s.wants(w, l) {
			st.done.Looks++
		}
	}
	ginkgo.Describe(w.Name, ginkgo.Ordered, ginkgo.ContinueOnFailure, ginkgo.Label(w.Labels...), func() {
		for i, step := range w.Steps {
			if l, ok := step.Do.(TakeLook); ok && s.wants(w, l) {
				ginkgo.It(l.Name, func(ctx ginkgo.SpecContext) { st.toLook(ctx, i, l) })
			}
		}
		ginkgo.It("ends", func(ctx ginkgo.SpecContext) { st.toEnd(ctx) })
	})
}

// wants reports whether a look was asked for; others only settle.
func (s *session) wants(w *Walk, l TakeLook) bool {
	ok, err := Choice{Look: s.Look}.has(record.Look{Walk: w.Name, Look: l.Name})
	return ok && err == nil
}

// relative gives a file's path from a folder, with slashes.
func relative(dir, file string) string {
	rel, err := filepath.Rel(dir, file)
	if err != nil {
		return filepath.ToSlash(file)
	}
	return filepath.ToSlash(rel)
}

// advance takes the steps up to step i.
func (s *stage) advance(ctx context.Context, i int) error {
	if s.began.IsZero() {
		s.began = time.Now()
		up, down := s.dev.Wire()
		s.bytes = up + down
		s.out.send(Event{Begin: &s.done})
		if err := s.begin(ctx, s.d, s.w); err != nil {
			return err
		}
		s.done.Boot = s.d.boot.Seconds()
	}
	for ; s.next < i; s.next++ {
		step := s.w.Steps[s.next]
		if l, ok := step.Do.(TakeLook); ok { // one that was not asked for
			if _, err := s.dev.Settle(ctx, l.Settle.Still, l.Settle.Latest); err != nil {
				return s.d.at(step, err)
			}
			continue
		}
		if err := s.d.take(ctx, step); err != nil {
			return err
		}
	}
	return nil
}

func (s *stage) toLook(ctx context.Context, i int, l TakeLook) {
	if s.over {
		ginkgo.Skip("the run stopped at a failure")
	}
	line := s.w.Steps[i].line()
	if s.dead != nil {
		s.out.send(Event{Look: &record.Look{Walk: s.w.Name, Look: l.Name, Line: line, Verdict: record.NotReached, Path: []record.Input{}}})
		ginkgo.Skip("not reached: " + s.dead.Error())
	}
	err := s.advance(ctx, i)
	look := record.Look{Walk: s.w.Name, Look: l.Name, Line: line, Verdict: record.NoCapture, Path: s.d.path}
	if err == nil {
		look, err = s.judge.look(ctx, s.d, s.w, l, line)
		s.next = i + 1
	}
	if err != nil {
		s.dead = err
		look.Verdict, look.Why = record.NoCapture, err.Error()
	}
	s.out.send(Event{Look: &look})
	if look.Verdict == record.Same {
		return
	}
	if look.Aside == nil || look.Aside.Past {
		s.fail()
	}
	if look.Verdict == record.Differs {
		ginkgo.Fail(summary(look))
	}
	ginkgo.Fail(strings.TrimSpace(string(look.Verdict) + " " + look.Why))
}

// summary puts a finding in a few lines.
func summary(l record.Look) string {
	lines := []string{"differs"}
	for _, c := range l.Finding.Causes {
		lines = append(lines, c.Says)
	}
	return strings.Join(lines, "\n")
}

func (s *stage) toEnd(ctx context.Context) {
	if s.over && s.began.IsZero() {
		ginkgo.Skip("the run stopped at a failure")
	}
	if s.dead == nil && !s.over {
		s.dead = s.advance(ctx, len(s.w.Steps))
	}
	s.done.Done = true
	s.done.Took = time.Since(s.began).Seconds()
	s.done.DeviceTook = (s.dev.Now() - s.d.start).Seconds()
	up, down := s.dev.Wire()
	s.done.Wire = up + down - s.bytes
	if s.dead == nil && !s.over {
		s.dead = s.d.alive.testify(ctx, s.dev)
	}
	if s.dead != nil {
		s.done.Why = s.dead.Error()
		s.done.Log = s.book.tail(logTail)
	}
	s.out.send(Event{End: &s.done})
	if s.dead != nil {
		s.fail()
		ginkgo.Fail("the walk broke off: " + s.dead.Error())
	}
}

// describeAgain walks a walk further times and counts the distinct pictures of each look: more than one
// means that the look is not steady, whatever its golden says.
func (s *session) describeAgain(w *Walk) {
	ginkgo.It(w.Name+" again", ginkgo.Label(w.Labels...), func(ctx ginkgo.SpecContext) {
		if s.over {
			ginkgo.Skip("the run stopped at a failure")
		}
		seen := map[string]map[uint64]int{}
		d := s.driver(w)
		tell := d.expect
		d.expect = func(string, int, record.Result, string) {} // they were told of the first time
		for round := range s.Again {
			if err := s.once(ctx, d, w, seen); err != nil {
				tell(fmt.Sprintf("again %d times", s.Again), 0, record.Missed, fmt.Sprintf("round %d broke off: %v", round+1, err))
				ginkgo.Fail(err.Error())
			}
		}
		unsteady := 0
		for _, step := range w.Steps {
			l, ok := step.Do.(TakeLook)
			if !ok || !s.wants(w, l) {
				continue
			}
			what := fmt.Sprintf("%s again, %d times", l.Name, s.Again)
			if n := len(seen[l.File]); n > 1 {
				unsteady++
				tell(what, step.line(), record.Missed, fmt.Sprintf("%d distinct pictures", n))
				continue
			}
			tell(what, step.line(), record.Met, "")
		}
		if unsteady > 0 {
			ginkgo.Fail(fmt.Sprintf("%d looks are not steady", unsteady))
		}
	})
}

// once walks a walk and notes which pictures its looks show.
func (s *session) once(ctx context.Context, d *driver, w *Walk, seen map[string]map[uint64]int) error {
	d.path, d.prev, d.prevGolden, d.seen = nil, nil, nil, ""
	if err := s.begin(ctx, d, w); err != nil {
		return err
	}
	return d.through(ctx, w, func(_ Step, l TakeLook, shot link.Look) error {
		if seen[l.File] == nil {
			seen[l.File] = map[uint64]int{}
		}
		seen[l.File][masked(shot, l)]++
		return nil
	})
}

// through takes a walk's steps once more. Its looks are captured, and what they show is handed on instead of being judged.
func (d *driver) through(ctx context.Context, w *Walk, look func(Step, TakeLook, link.Look) error) error {
	for _, step := range w.Steps {
		l, ok := step.Do.(TakeLook)
		if !ok {
			if err := d.take(ctx, step); err != nil {
				return err
			}
			continue
		}
		shot, err := d.dev.Look(ctx, link.LookOptions{Still: l.Settle.Still, Latest: l.Settle.Latest})
		if err != nil {
			return d.at(step, err)
		}
		d.seen = l.Name
		if err := look(step, l, shot); err != nil {
			return err
		}
	}
	return nil
}

// masked is the hash of what a look shows outside its ignored areas.
func masked(shot link.Look, l TakeLook) uint64 {
	if len(l.Ignore) == 0 {
		return shot.Hash
	}
	f := shot.Frame.Clone()
	for _, ig := range l.Ignore {
		f.Blank(ig.Rect)
	}
	return link.HashFrame(f)
}
