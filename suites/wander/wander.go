// Package wander tries a device's screens on its own: sensible input drawn from a seed, led towards what
// has not been seen yet, and judged without any golden.
//
// What is judged: a full redraw against what the updates left on the panel; restarts and hangs; screens
// that never settle; gauges that go one way at every visit of one screen; the same input on the same
// picture that leads to a screen drawn otherwise. A path that fails is shrunk to a short walk that shows
// the fault from a reset (shrink.go). What is declined: whether a screen is right. That is for walks.
//
// Every input is a step of a walk, taken as a walk would take it (suites.Player), so a walk that is
// written repeats what was done.
package wander

import (
	"context"
	"fmt"
	"image"
	"math/rand/v2"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/wander/atlas"
)

// A Device is what is wandered on; *bench.Device is one.
type Device interface {
	suites.Device
	// Branch remembers a moment of the device; the function it returns brings it back, and is nil
	// where the device cannot do that: then every path is walked again from a reset.
	Branch() (back func() error, err error)
	// Hash tells which picture the panel shows, without fetching it.
	Hash(context.Context, link.LookOptions) (hash uint64, moving bool, err error)
}

// Options say how to wander.
type Options struct {
	Seed uint64
	// Steps is how many inputs are given, without those of replays that shrink a path.
	Steps int
	// Feeds and Texts are what the device is known to take, from its walks (suites.Words).
	Feeds []suites.Feed
	Texts []string
	// Walks are followed first, in an order drawn from the seed, so that wandering goes on from what their
	// authors found; none need be given.
	Walks []*suites.Walk
	// Restarts are patterns of log lines by which the firmware says that it died.
	Restarts []string
	// Names is the pattern of a log line that names the screen just opened, as "screen *"; "" if there is none.
	Names string
	// Findings ends the wandering once so many were made; 0: never.
	Findings int
	// Replays bounds how often a path is walked again to shrink it; 200 if zero.
	Replays int
	// Tell is called with what happens, in words; may be nil.
	Tell func(string)
}

// A Finding is a fault that was seen.
type Finding struct {
	atlas.Finding
	Walk string // the walk's text; "" where the fault could not be brought about again from a reset
	Path int    // inputs from reset to the fault before the path was shrunk
}

// A Result is what wandering found.
type Result struct {
	Map      atlas.Map
	Pictures map[string]image.Image // of the map's screens, by their files
	Findings []Finding              // those of the map, with their walks
	Steps    int                    // inputs given
	Replayed int                    // inputs given to shrink paths
}

// An act is one input: a step of a walk, and its text.
type act struct {
	text string // YAML, without the dash
	step suites.Step
	from *screen // where it was given; nil in a list of what can be given
}

func (a act) says() string { return a.step.Do.Says().Says }

// A node is a picture that the device showed, and how to come back to it.
type node struct {
	picture uint64 // its hash, without what animates
	name    string // of the screen, as the firmware's log had it last
	screen  *screen
	road    []act
	back    func() error
	frame   *capture.Frame // redrawn; nil for most once there are many
	tries   int
}

// A pictureKey is a picture, by the link's hash of it, on a screen of that name.
type pictureKey struct {
	hash uint64
	name string
}

// A screen is a cluster of pictures.
type screen struct {
	number   int
	sign     atlas.Signature
	img      image.Image
	name     string
	seen     int
	pictures map[uint64]string // hash, and that of goldens
	still    map[int]bool      // cells that animate, and do not count
	nodes    []*node           // some of it, to go back to
	more     []picked          // further pictures
	road     []act
	targets  []atlas.Target
	tried    map[string]int // by an act's text: how often
	hammered map[string]bool
}

// group is the name that the firmware has for the screen, else the screen.
func (s *screen) group() string {
	if s.name != "" {
		return s.name
	}
	return s.id()
}

func (s *screen) id() string { return fmt.Sprintf("s%d", s.number) }

// A wanderer is on its way.
type wanderer struct {
	ctx  context.Context
	dev  Device
	p    *suites.Player
	o    Options
	rng  *rand.Rand
	h    link.Hello
	hold bool // the clock is held, and with it whatever is endless

	screens []*screen
	nodes   map[uint64]*node
	ways    map[[3]string]int
	at      *node  // where the device is; nil: not known
	road    []act  // from reset to there
	name    string // what the firmware called the screen last

	found    map[string]bool
	findings []Finding
	steps    int
	replayed int

	vocabulary []act // feeds, texts, clock steps: the same everywhere
	prefix     []act // given after each reset: what the first screen does not show
	keys       []act
	effect     map[string]*effect // of a kind of act on a screen
	rounds     map[string]int     // round trips that were measured, by their screens
	backs      map[[2]*screen]act // what led from a screen to another last
	trips      []trip
	roads      map[roadKey]arrival
	last       *arrival // the act just taken, and the one before it
	before     *arrival
	byHash     map[pictureKey]*screen // by the link's hash of a redrawn picture
	err        error                  // why it cannot go on
}

// Wander wanders on a device until its steps are used up. An error means that the device could not be
// used at all; what was found before stands in the result. p plays on dev.
func Wander(ctx context.Context, dev Device, p *suites.Player, o Options) (*Result, error) {
	if o.Replays == 0 {
		o.Replays = 200
	}
	if o.Tell == nil {
		o.Tell = func(string) {}
	}
	w := &wanderer{ctx: ctx, dev: dev, p: p, o: o, rng: rand.New(rand.NewPCG(o.Seed, 0x77616e646572)), h: dev.Hello(),
		nodes: map[uint64]*node{}, effect: map[string]*effect{}, byHash: map[pictureKey]*screen{}, ways: map[[3]string]int{}, found: map[string]bool{}, rounds: map[string]int{}, backs: map[[2]*screen]act{}, roads: map[roadKey]arrival{}}
	if !dev.CanReset() {
		return nil, fmt.Errorf("this device cannot be started anew from here, and a path that fails is repeated from a reset: give its bench.yaml a reset line or power")
	}
	w.hold = w.h.Has(link.CanClock)
	if err := w.prepare(); err != nil {
		return nil, err
	}
	if err := w.start(true); err != nil {
		return nil, err
	}
	w.follow()
	if !w.done() {
		if w.err = w.start(false); w.err == nil {
			w.feedUnseen()
		}
	}
	for !w.done() {
		w.episode()
	}
	if w.err == nil {
		w.err = ctx.Err()
	}
	return w.result(), w.err
}

// done reports whether the steps are used up, or there is another reason to end.
func (w *wanderer) done() bool {
	return w.steps >= w.o.Steps || w.err != nil || w.ctx.Err() != nil || w.o.Findings > 0 && len(w.findings) >= w.o.Findings
}

// setup are the steps between the reset and the first input.
func (w *wanderer) setup() []string {
	if w.hold {
		return []string{"clock: " + clockHeld, "settle"}
	}
	return []string{"settle"}
}

// clockHeld is what the clock is held at.
const clockHeld = "2031-05-04T09:30:00"

// start starts the device anew and comes to the first screen.
func (w *wanderer) start(first bool) error {
	w.at, w.road, w.last, w.before, w.name = nil, nil, nil, nil, ""
	if err := w.p.Begin(w.ctx); err != nil {
		return err
	}
	if first { // what the device shows while it starts
		shot, err := w.dev.Look(w.ctx, link.LookOptions{})
		if err != nil {
			return err
		}
		if s := w.screenOf(shot.Frame); s.seen == 0 {
			s.seen = 1
		}
	}
	for _, text := range w.setup() {
		a, err := parse(text)
		if err != nil {
			return err
		}
		if err := w.p.Take(w.ctx, a.step); err != nil {
			return fmt.Errorf("after a reset: %w", err)
		}
	}
	for _, a := range w.prefix {
		if err := w.p.Take(w.ctx, a.step); err != nil {
			return fmt.Errorf("after a reset: %w", err)
		}
		if err := w.p.Take(w.ctx, settle); err != nil {
			return fmt.Errorf("after a reset: %w", err)
		}
	}
	w.road = w.prefix
	w.arrive(nil)
	return w.err
}
