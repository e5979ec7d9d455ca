package suites

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/onsi/ginkgo/v2"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/suites/record"
)

// SuiteTimeout bounds a whole run. Ginkgo's own hour is too short for a long suite on a slow line.
const SuiteTimeout = 24 * time.Hour

// Specs is the child process of a run: it opens the bench, checks the walks against the device and
// walks them, a Ginkgo spec a look. What happens goes to events; Ginkgo prints to standard output.
// It returns 0 when every walk was walked, whatever the verdicts, and 2 when none was.
func Specs(ctx context.Context, p *Plan, runDir string, builtIn bench.BuiltIn, events io.Writer) int {
	out := newSender(events)
	fatal := func(err error) int {
		out.send(Event{Fatal: &Fatal{Error: err.Error()}})
		return 2
	}
	logFile, err := os.OpenFile(filepath.Join(runDir, "device.log"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o666)
	if err != nil {
		return fatal(fmt.Errorf("keep the device's log: %w", err))
	}
	defer logFile.Close()
	book := &logBook{}
	book.dies = p.Bench.Restarts
	conn, err := p.Bench.Open(ctx, bench.Options{BuiltIn: builtIn, Log: func(l link.LogLine) {
		book.add(l)
		fmt.Fprintf(logFile, "%.3f  %s\n", l.At.Seconds(), l.Text)
	}})
	if err != nil {
		return fatal(err)
	}
	defer conn.Close()
	if err := checkOn(ctx, p, conn); err != nil {
		return fatal(err)
	}
	h := conn.Hello()
	out.send(Event{Device: &record.Device{Device: h.Device, Build: h.Build, Firmware: h.Firmware, Library: h.Library,
		Width: h.Width, Height: h.Height, Format: h.Format.String()}})

	j := &judge{store: p.Store, goldens: filepath.Join(p.Bench.Dir, GoldenDir), target: p.Bench.Target, runDir: runDir}
	// One container around all: Ginkgo shuffles the outermost, and walks are walked in their order.
	ginkgo.Describe(p.Bench.Name, func() {
		for _, w := range p.Walks {
			describe(w, conn, p.Bench.Call, book, j, out)
		}
	})
	suite, reporter := ginkgo.GinkgoConfiguration()
	suite.Timeout = SuiteTimeout
	reporter.NoColor = true
	reporter.Verbose = true
	ginkgo.RunSpecs(failer{}, "fascia "+p.Bench.Name, suite, reporter)
	out.send(Event{Done: true})
	return 0
}

// checkOn holds the walks against what the device says it can do.
func checkOn(ctx context.Context, p *Plan, conn *bench.Device) error {
	var lists [2][]link.Item
	if conn.Hello().Has(link.CanList) {
		for i, what := range []link.ListKind{link.Feeds, link.Keys} {
			var err error
			if lists[i], err = conn.List(ctx, what); err != nil && !errors.Is(err, link.ErrUnsupported) {
				return fmt.Errorf("ask the device what it can do: %w", err)
			}
		}
	}
	return p.checkDevice(conn.Hello(), conn.CanReset(), lists[0], lists[1])
}

// failer stands in for *testing.T: the verdict of a run is in its record.
type failer struct{}

func (failer) Fail() {}

// A stage is a walk being walked, spec by spec.
type stage struct {
	w     *Walk
	d     *driver
	j     *judge
	out   sender
	done  record.Walk
	began time.Time
	bytes int64
	dead  error // why the walk broke off
	next  int   // step to take next
}

// describe makes the specs of a walk: one a look, and one for the steps after the last.
func describe(w *Walk, dev Device, call func(context.Context, string) error, book *logBook, j *judge, out sender) {
	s := &stage{w: w, j: j, out: out}
	s.done = record.Walk{Walk: w.Name, File: relative(j, w.File), Hash: w.Hash, Looks: len(w.Looks())}
	s.d = &driver{dev: dev, call: call, log: book, note: func(text string) { out.send(Event{Note: text}) }, expect: func(what string, line int, r record.Result, why string) {
		out.send(Event{Expectation: &record.Expectation{Walk: w.Name, What: what, Result: r, Line: line, Why: why}})
		if r == record.Missed {
			fmt.Fprintf(ginkgo.GinkgoWriter, "%s: missed: %s\n", what, why)
		}
	}}
	ginkgo.Describe(w.Name, ginkgo.Ordered, ginkgo.ContinueOnFailure, func() {
		for i, step := range w.Steps {
			if l, ok := step.Do.(TakeLook); ok {
				ginkgo.It(l.Name, func(ctx ginkgo.SpecContext) { s.toLook(ctx, i, l) })
			}
		}
		ginkgo.It("ends", func(ctx ginkgo.SpecContext) { s.toEnd(ctx) })
	})
}

// relative gives a file's path from the bench's folder, which is the folder above the golden store's.
func relative(j *judge, file string) string {
	rel, err := filepath.Rel(filepath.Dir(filepath.Dir(j.runDir)), file)
	if err != nil {
		return filepath.ToSlash(file)
	}
	return filepath.ToSlash(rel)
}

// advance takes the steps up to step i.
func (s *stage) advance(ctx context.Context, i int) error {
	if s.next == 0 && s.began.IsZero() {
		s.began = time.Now()
		up, down := s.d.dev.Wire()
		s.bytes = up + down
		s.out.send(Event{Begin: &s.done})
		if err := s.d.begin(ctx, s.w); err != nil {
			return err
		}
	}
	for ; s.next < i; s.next++ {
		if err := s.d.take(ctx, s.w.Steps[s.next]); err != nil {
			return err
		}
	}
	return nil
}

func (s *stage) toLook(ctx context.Context, i int, l TakeLook) {
	line := s.w.Steps[i].At.Line()
	if s.dead != nil {
		s.out.send(Event{Look: &record.Look{Walk: s.w.Name, Look: l.Name, Line: line, Verdict: record.NotReached, Path: []record.Input{}}})
		ginkgo.Skip("not reached: " + s.dead.Error())
	}
	err := s.advance(ctx, i)
	look := record.Look{Walk: s.w.Name, Look: l.Name, Line: line, Verdict: record.NoCapture, Path: s.d.path}
	if err == nil {
		look, err = s.j.look(ctx, s.d, s.w, l, line)
		s.next = i + 1
	}
	if err != nil {
		s.dead = err
		look.Verdict, look.Why = record.NoCapture, err.Error()
	}
	s.out.send(Event{Look: &look})
	switch look.Verdict {
	case record.Same:
	case record.Differs:
		ginkgo.Fail(summary(look))
	default:
		ginkgo.Fail(strings.TrimSpace(string(look.Verdict) + " " + look.Why))
	}
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
	if s.dead == nil {
		s.dead = s.advance(ctx, len(s.w.Steps))
	}
	s.done.Took = time.Since(s.began).Seconds()
	s.done.DeviceTook = (s.d.dev.Now() - s.d.start).Seconds()
	up, down := s.d.dev.Wire()
	s.done.Wire = up + down - s.bytes
	if s.dead != nil {
		s.done.Why = s.dead.Error()
		s.done.Log = s.d.log.tail(logTail)
	}
	s.out.send(Event{End: &s.done})
	if s.dead != nil {
		ginkgo.Fail("the walk broke off: " + s.dead.Error())
	}
}
