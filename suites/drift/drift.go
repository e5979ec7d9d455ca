// Package drift follows figures of looks over runs: boot time, settle time, bytes over the link and
// the device's own gauges. It says which of them changed, when and by how much, and draws them.
//
// A figure is followed within one bench and target, from run to run. Where it may have changed is
// asked at every change of build, and in the middle of a long stretch of one build, which shows
// what the firmware cannot be blamed for. How it is decided:
//
//   - the runs on either side are compared by the two-sided rank-sum test, so no figure needs to be
//     normally distributed and one odd run raises no alarm (ranksum.go);
//   - the smallest p over a figure's K places counts K times (Bonferroni);
//   - over all figures the share of false alarms is held at 5 % (discovery.go);
//   - a change of the median by less than Options.Least is not worth a person's time.
//
// Bytes and settle time are followed only where the look was the same as its golden: a picture that
// differs has to be sent, which is slower and is no drift. Runs that broke off do not count, and of a
// walk whose file was changed only those since.
package drift

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// Defaults of Options.
const (
	DefaultRate  = 0.05
	DefaultLeast = 0.02
	DefaultLast  = 40
)

// minSide is the least number of runs on either side of a split. The rank-sum test cannot reach 5 %
// with fewer than 3 against 5 or 4 against 4: 2/C(8,3) = 0.036, 2/C(8,4) = 0.029.
const minSide = 3

// longStretch is how many runs of one build are asked whether something changed among them.
const longStretch = 8

// Options of Find.
type Options struct {
	Walk string // only this walk; empty means all
	Look string // only looks that match this pattern (path.Match); empty means all
	// Last is how many of the newest runs of a bench count, so that an old change is told for a while
	// and not for ever; 0 means all.
	Last int
	// Rate is the share of false alarms among what is flagged, Least the smallest relative change of the
	// median that counts. Both from 0 to 1.
	Rate, Least float64
}

// A Point is a figure in one run.
type Point struct {
	Run     string    `json:"run"`
	Started time.Time `json:"started"`
	Build   string    `json:"build"`
	Value   float64   `json:"value"`
}

// A Kind is what a figure measures.
type Kind string

// The kinds of figures, with their units.
const (
	Boot   Kind = "boot time"   // seconds; the median over the run's walks
	Settle Kind = "settle time" // seconds on the device's clock
	Wire   Kind = "bytes"       // over the link, both ways
	Gauge  Kind = "gauge"       // whatever the device's unit is
)

// A Series is one figure over runs, oldest first.
type Series struct {
	Kind  Kind    `json:"kind"`
	Gauge string  `json:"gauge,omitempty"` // the gauge's name
	Walk  string  `json:"walk,omitempty"`
	Look  string  `json:"look,omitempty"`
	Least float64 `json:"-"`
	Seen  []Point `json:"points"`
	// Changes found in it, oldest first.
	Changes []Change `json:"changes"`
	// P is the smallest p over the places where it was split, times their number, at most 1.
	P float64 `json:"p"`
}

// Name says which figure it is.
func (s *Series) Name() string {
	switch {
	case s.Kind == Boot:
		return "boot time"
	case s.Kind == Gauge:
		return fmt.Sprintf("%s at %s / %s", s.Gauge, s.Walk, s.Look)
	case s.Kind == Wire:
		return fmt.Sprintf("bytes over the link for %s / %s", s.Walk, s.Look)
	}
	return fmt.Sprintf("%s of %s / %s", s.Kind, s.Walk, s.Look)
}

// A Change is a place in a series where the figure became another.
type Change struct {
	// At is the index of the first point that is different.
	At int `json:"at"`
	// Build is the first build with the new figure, Previous the last with the old; the same where the
	// figure changed without a change of build.
	Build    string `json:"build"`
	Previous string `json:"previous"`
	Run      string `json:"run"` // the first run with the new figure
	// Before and After are medians, over RunsBefore and RunsAfter runs.
	Before     float64 `json:"before"`
	After      float64 `json:"after"`
	RunsBefore int     `json:"runs_before"`
	RunsAfter  int     `json:"runs_after"`
	// P is the rank-sum test's, two-sided, before any correction.
	P float64 `json:"p"`
}

// Relative is the change of the median over the median before; infinite where that was zero.
func (c Change) Relative() float64 {
	if c.Before == 0 {
		return math.Inf(int(c.After))
	}
	return (c.After - c.Before) / math.Abs(c.Before)
}

// A Group is what was followed on one bench and target.
type Group struct {
	Bench  string   `json:"bench"`
	Target string   `json:"target"`
	Runs   int      `json:"runs"`
	Builds []string `json:"builds"` // in order of their first run
	// Figures is how many were followed, Moved how many of them were not the same in all runs, Tested how
	// many of those had enough runs on either side of a place where they may have changed.
	Figures int `json:"figures"`
	Moved   int `json:"moved"`
	Tested  int `json:"tested"`
	// Testable says whether any figure, moved or not, had enough runs.
	Testable bool      `json:"testable"`
	Series   []*Series `json:"series"`
	Notes    []string  `json:"notes,omitempty"`
}

// Drifted returns the series with changes, the strongest first.
func (g *Group) Drifted() []*Series {
	var out []*Series
	for _, s := range g.Series {
		if len(s.Changes) > 0 {
			out = append(out, s)
		}
	}
	slices.SortStableFunc(out, func(a, b *Series) int {
		switch {
		case a.P < b.P:
			return -1
		case a.P > b.P:
			return 1
		}
		return 0
	})
	return out
}

// judge finds the changes in a group's series.
func (g *Group) judge(opt Options) {
	var tested []*Series
	var p []float64
	g.Figures = len(g.Series)
	for _, s := range g.Series {
		s.Least = opt.Least
		s.P = 1
		places := s.places(0, len(s.Seen))
		if len(places) > 0 && s.reachable() {
			g.Testable = true
		}
		if s.constant() {
			continue // it is what it was in every run: not a question, so it does not count among the many
		}
		g.Moved++
		if len(places) == 0 {
			continue
		}
		_, s.P = s.strongest(0, len(s.Seen))
		tested = append(tested, s)
		p = append(p, s.P)
	}
	g.Tested = len(tested)
	limit := Threshold(p, opt.Rate)
	for _, s := range tested {
		if s.P <= limit {
			s.split(0, len(s.Seen), limit)
			slices.SortFunc(s.Changes, func(a, b Change) int { return a.At - b.At })
			s.remeasure()
		}
	}
}
