package suites

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/onsi/ginkgo/v2"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/suites/record"
)

// SuiteTimeout bounds a whole run. Ginkgo's own hour is too short for a long suite on a slow line.
const SuiteTimeout = 24 * time.Hour

// A Config says how the specs of a run are to be walked.
type Config struct {
	RunDir  string
	BuiltIn bench.BuiltIn
	Events  io.Writer // gets what happens, an Event a line
	Only    string    // a Ginkgo label filter; "" all walks
	Look    string    // pattern of walk/look; others only settle; "" all looks
	Stop    bool      // at the first failure
	Again   int       // walk each walk so often, and count distinct pictures
	Hands   bool      // somebody is there to lend a hand
	Shuffle uint64    // tour the walks in an order drawn from this seed; 0: do not
	Fresh   bool      // walk what walks start from each time, instead of bringing a twin back to it
	Build   string    // the build that the device must be, for a run taken up again
}

// openDevice is a device that a session has and gives back.
type openDevice interface {
	Device
	// Branch remembers this moment of the device and returns what brings it back; nil where it cannot.
	Branch() (back func() error, err error)
	Close() error
}

// A session is one conversation with a device in which walks are walked.
type session struct {
	Config
	plan  *Plan
	dev   openDevice
	book  *logBook
	judge *judge
	eye   *eye // the bench's camera; nil without one
	out   sender
	roots map[string]root // by the file of the walk that others start from
	over  bool            // something failed and Config.Stop is set
}

// Specs is the child process of a run: it opens the bench, checks the walks against the device and
// walks them, a Ginkgo spec a look. What happens goes to Config.Events; Ginkgo prints to standard
// output. It returns 0 when every walk was walked, whatever the verdicts, and 2 when none was.
func Specs(ctx context.Context, p *Plan, c Config) int {
	s, end, err := open(ctx, p, c)
	if err != nil {
		newSender(c.Events).send(Event{Fatal: &Fatal{Error: err.Error()}})
		return 2
	}
	defer end()
	// One container around all: Ginkgo shuffles the outermost, and walks are walked in their order.
	ginkgo.Describe(p.Bench.Name, func() {
		for _, w := range p.Walks {
			s.describe(w)
		}
		for _, w := range p.Walks {
			if c.Again > 1 {
				s.describeAgain(w)
			}
		}
		if c.Shuffle != 0 {
			s.describeTour()
		}
	})
	suite, reporter := ginkgo.GinkgoConfiguration()
	suite.Timeout = SuiteTimeout
	suite.LabelFilter = c.Only
	reporter.NoColor = true
	reporter.Verbose = true
	ginkgo.RunSpecs(failer{}, "fascia "+p.Bench.Name, suite, reporter)
	s.out.send(Event{Done: true})
	return 0
}

// open starts a session: the device is there, is the right one, and can do what the walks ask.
func open(ctx context.Context, p *Plan, c Config) (*session, func(), error) {
	logFile, err := os.OpenFile(filepath.Join(c.RunDir, "device.log"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o666)
	if err != nil {
		return nil, nil, fmt.Errorf("keep the device's log: %w", err)
	}
	s := &session{Config: c, plan: p, book: &logBook{dies: p.Bench.Restarts}, out: newSender(c.Events), roots: map[string]root{}}
	opt := bench.Options{BuiltIn: c.BuiltIn, Log: func(l link.LogLine) {
		s.book.add(l)
		fmt.Fprintf(logFile, "%.3f  %s\n", l.At.Seconds(), l.Text)
	}}
	if p.Bench.IsDump() {
		s.dev, err = p.Bench.OpenDump(ctx, opt)
	} else {
		s.dev, err = p.Bench.Open(ctx, opt)
	}
	if err != nil {
		logFile.Close()
		return nil, nil, err
	}
	end := func() { s.eye.close(); s.dev.Close(); logFile.Close() }
	if err := s.check(ctx); err != nil {
		end()
		return nil, nil, err
	}
	if s.eye, err = openEye(p.Bench, p.Store, s.dev.Hello(), func(text string) { s.out.send(Event{Note: text}) }); err != nil {
		end()
		return nil, nil, err
	}
	h := s.dev.Hello()
	s.out.send(Event{Device: &record.Device{Device: h.Device, Build: h.Build, Firmware: h.Firmware, Library: h.Library,
		Width: h.Width, Height: h.Height, Format: h.Format.String()}})
	s.judge = &judge{store: p.Store, goldens: filepath.Join(p.Bench.Dir, GoldenDir), target: p.Bench.Target, runDir: c.RunDir, today: time.Now(), eye: s.eye}
	return s, end, nil
}

// check holds the walks against what the device says it can do.
func (s *session) check(ctx context.Context) error {
	if have := s.dev.Hello().Build; s.Build != "" && s.Build != have {
		return fmt.Errorf("the run to take up was of build %q, and the device runs %q now", s.Build, have)
	}
	var lists [2][]link.Item
	if s.dev.Hello().Has(link.CanList) {
		for i, what := range []link.ListKind{link.Feeds, link.Keys} {
			var err error
			if lists[i], err = s.dev.List(ctx, what); err != nil && !errors.Is(err, link.ErrUnsupported) {
				return fmt.Errorf("ask the device what it can do: %w", err)
			}
		}
	}
	if s.Shuffle != 0 {
		if err := s.plan.checkTour(); err != nil {
			return err
		}
	}
	if err := s.checkHands(); err != nil {
		return err
	}
	return s.plan.checkDevice(s.dev.Hello(), s.dev.CanReset(), lists[0], lists[1])
}

// driver returns a driver for a walk.
func (s *session) driver(w *Walk) *driver {
	var measured *record.Sweep // of the next expectation
	return &driver{
		eye: s.eye, swept: func(m record.Sweep) { measured = &m },
		dev: s.dev, call: s.plan.Bench.Call, log: s.book, areas: w.Areas,
		note: func(text string) { s.out.send(Event{Note: text}) },
		ask: func(ctx context.Context, text string) error {
			if s.twin() != nil {
				return s.play(ctx, text)
			}
			s.out.send(Event{Hand: text})
			return nil
		},
		golden: func(look string) image.Image {
			m, _, err := s.plan.Store.Get(s.plan.Bench.Target, w.Name, look)
			if err != nil {
				return nil
			}
			return m
		},
		expect: func(what string, line int, r record.Result, why string) {
			x := record.Expectation{Walk: w.Name, What: what, Result: r, Line: line, Why: why, Sweep: measured}
			measured = nil
			if r == record.Missed {
				x.Log = s.book.since(s.book.count() - logBeside)
			}
			s.out.send(Event{Expectation: &x})
			if r == record.Missed {
				s.fail()
				fmt.Fprintf(ginkgo.GinkgoWriter, "%s: missed: %s\n", what, why)
			}
		},
	}
}

// fail notes that something failed, for runs that stop at that.
func (s *session) fail() { s.over = s.Stop }

// A root is the end of a walk that others start from, to which the device can be brought back.
type root struct {
	back               func() error
	start, input, boot time.Duration
	lines              []link.LogLine // printed since the last input
}

// begin brings the device to where a walk starts. A twin that was there before is brought back to that
// moment; what follows is the same as if it had been walked again, and a test says so.
func (s *session) begin(ctx context.Context, d *driver, w *Walk) error {
	if err := s.meet(ctx, d, w); err != nil {
		return err
	}
	if w.From == nil || s.Fresh {
		return d.begin(ctx, w)
	}
	if r, ok := s.roots[w.From.File]; ok {
		if err := r.back(); err != nil {
			return err
		}
		d.start, d.input, d.boot = r.start, r.input, r.boot
		d.log.death, d.mark = "", s.book.count()
		s.book.keep(r.lines...)
		d.path = append(d.path, says("walk %s", w.From.Name))
		return nil
	}
	if err := d.begin(ctx, w); err != nil {
		return err
	}
	back, err := s.dev.Branch()
	if err == nil && back != nil {
		s.roots[w.From.File] = root{back, d.start, d.input, d.boot, slices.Clone(s.book.after(d.mark))}
	}
	return err
}

// failer stands in for *testing.T: the verdict of a run is in its record.
type failer struct{}

func (failer) Fail() {}
