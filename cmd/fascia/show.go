package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/record"
)

// A show tells people how a run goes: on a terminal a line that keeps up, elsewhere a line a walk.
type show struct {
	out  io.Writer
	live io.Writer // nil where it is no terminal
	all  int       // looks planned
	seen int
	walk string
	look string // the last one taken
	// what looks came to so far, in the order of record.Verdicts
	verdicts map[record.Verdict]int
	history  map[string]float64   // what each walk took in the newest run before, s
	began    map[string]time.Time // walks that are being walked
}

func newShow(out, errout io.Writer, plans ...*suites.Plan) *show {
	s := &show{out: out, verdicts: map[record.Verdict]int{}, history: map[string]float64{}, began: map[string]time.Time{}}
	if isTerminal(errout) {
		s.live = errout
	}
	known := map[string]bool{}
	for _, p := range plans {
		if dir := p.Bench.Dir; s.live != nil && !known[dir] {
			known[dir] = true
			s.remember(filepath.Join(dir, suites.RunsDir))
		}
		for _, w := range p.Walks {
			s.all += len(w.Looks())
		}
	}
	return s
}

const wipe = "\r\x1b[K"

func (s *show) clear() {
	if s.live != nil {
		fmt.Fprint(s.live, wipe)
	}
}

func (s *show) event(run *record.Run, e suites.Event) {
	switch {
	case e.Device != nil:
		d := e.Device
		s.clear()
		fmt.Fprintf(s.out, "%s, %s, build %s, %dx%d %s\n", d.Firmware, d.Library, d.Build, d.Width, d.Height, d.Format)
	case e.Note != "":
		s.clear()
		fmt.Fprintf(s.out, "  note: %s\n", e.Note)
	case e.Hand != "":
		s.clear()
		fmt.Fprintf(s.out, "  your hand, please: %s\n", e.Hand)
	case e.Begin != nil:
		s.walk, s.look = e.Begin.Walk, ""
		s.began[e.Begin.Walk] = time.Now()
	case e.Look != nil:
		s.seen++
		s.look = e.Look.Look
		s.verdicts[e.Look.Verdict]++
	case e.End != nil:
		delete(s.began, e.End.Walk)
		s.clear()
		fmt.Fprintf(s.out, "  %-24s %s\n", e.End.Walk, walkLine(run, e.End.Walk))
	}
	if s.live != nil && e.Device == nil {
		fmt.Fprint(s.live, wipe+s.line(run, time.Now()))
	}
}

// remember notes how long walks took in the newest run below a folder that came to its end.
func (s *show) remember(runs string) {
	entries, err := os.ReadDir(runs)
	if err != nil {
		return // the first run has no history
	}
	for i := len(entries) - 1; i >= max(0, len(entries)-20); i-- { // they are named by time
		run, err := record.Load(filepath.Join(runs, entries[i].Name()))
		if err != nil || run.Why != "" || run.Ended.IsZero() {
			continue
		}
		for _, w := range run.Walks {
			s.history[w.Walk] = w.Took
		}
		return
	}
}

// line is the live view: how far the run is, what it found, where it is, and how long it may take yet.
func (s *show) line(run *record.Run, now time.Time) string {
	parts := []string{fmt.Sprintf("%d of %d looks", s.seen, s.all)}
	for _, v := range record.Verdicts[1:] {
		if n := s.verdicts[v]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, v))
		}
	}
	at := s.walk
	if s.look != "" {
		at += " / " + s.look
	}
	parts = append(parts, at)
	if left := s.left(run, now); left > 0 {
		parts = append(parts, fmt.Sprintf("about %v left", left.Round(time.Second)))
	}
	line := "  " + strings.Join(parts, " · ")
	if r := []rune(line); len(r) > lineMost { // a line that wraps is not wiped
		line = string(r[:lineMost-1]) + "…"
	}
	return line
}

// lineMost is how long a live line may be: what the narrowest usual terminal holds.
const lineMost = 79

// left is how long what is yet to do took the last time; 0 where a walk has no history.
func (s *show) left(run *record.Run, now time.Time) time.Duration {
	var left float64
	for _, w := range run.Walks {
		if w.Done {
			continue
		}
		took, known := s.history[w.Walk]
		if !known {
			return 0
		}
		if began, walking := s.began[w.Walk]; walking {
			took = max(0, took-now.Sub(began).Seconds())
		}
		left += took
	}
	return time.Duration(left * float64(time.Second))
}

// walkLine counts a walk's looks and expectations in words.
func walkLine(run *record.Run, walk string) string {
	looks := map[record.Verdict]int{}
	n := 0
	for _, l := range run.Looks {
		if l.Walk == walk {
			looks[l.Verdict]++
			n++
		}
	}
	results := map[record.Result]int{}
	for _, x := range run.Expectations {
		if x.Walk == walk {
			results[x.Result]++
		}
	}
	var parts []string
	for _, v := range record.Verdicts {
		if looks[v] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", looks[v], v))
		}
	}
	for _, r := range []record.Result{record.Met, record.Missed} {
		if results[r] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", results[r], r))
		}
	}
	if len(parts) == 0 {
		return "nothing looked at"
	}
	return strings.Join(parts, ", ")
}

// summary tells what was found.
func (s *show) summary(run *record.Run) {
	for _, l := range run.Looks {
		for _, w := range l.Warnings {
			fmt.Fprintf(s.out, "\n%s / %s: warning: %s\n", l.Walk, l.Look, w)
		}
		past := l.Aside != nil && l.Aside.Past
		if l.Verdict == record.NotReached || l.Verdict == record.Same && !past {
			continue
		}
		fmt.Fprintf(s.out, "\n%s / %s: %s\n", l.Walk, l.Look, l.Verdict)
		switch {
		case past:
			fmt.Fprintf(s.out, "    It was set aside until %s, and that is over: mend it, or say until when.\n", l.Aside.Until)
		case l.Aside != nil:
			fmt.Fprintf(s.out, "    It is set aside until %s: %s\n", l.Aside.Until, l.Aside.Why)
		}
		if l.Why != "" {
			fmt.Fprintf(s.out, "    %s\n", indented(l.Why))
		}
		if l.Finding != nil {
			tell(s.out, *l.Finding)
		}
	}
	for _, x := range run.Expectations {
		if x.Result == record.Missed {
			fmt.Fprintf(s.out, "\n%s, line %d: %s: missed\n    %s\n", x.Walk, x.Line, x.What, indented(x.Why))
		}
	}
	for _, w := range run.Walks {
		if w.Why == "" {
			continue
		}
		fmt.Fprintf(s.out, "\n%s broke off: %s\n", w.Walk, indented(w.Why))
		for _, line := range w.Log[max(0, len(w.Log)-5):] {
			fmt.Fprintf(s.out, "    | %s\n", line)
		}
	}
	var took float64
	var wire int64
	for _, w := range run.Walks {
		took += w.Took
		wire += w.Wire
	}
	c := run.Counts
	fmt.Fprintf(s.out, "\n%d looks: %d same, %d differ, %d unapproved, %d without capture, %d not reached", len(run.Looks),
		c["same"], c["differs"], c["unapproved"], c["no-capture"], c["not-reached"])
	if n := c["met"] + c["missed"]; n > 0 {
		fmt.Fprintf(s.out, "; %d expectations: %d met, %d missed", n, c["met"], c["missed"])
	}
	fmt.Fprintf(s.out, "\n%d walks in %.1f s, %.1f kB over the link\n", len(run.Walks), took, float64(wire)/1000)
}

func indented(s string) string { return strings.ReplaceAll(s, "\n", "\n    ") }
