package author

import (
	"fmt"
	"image"
	"math"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/suites"
)

// What parts one gesture from another. Common practice, no source; firmwares have their own bounds.
const (
	slop      = 8                      // pixels that a finger may stray in a tap
	longPress = 500 * time.Millisecond // from here on a touch is a hold
	turnPause = 500 * time.Millisecond // knob turned on after less is the same turn
	bow       = 12.0                   // pixels off the straight line that make a drag a curve
)

// An act is one thing that a person did, as a step of a walk.
type act struct {
	from, to time.Duration
	step     string // as YAML, after "- "
	notes    []string
	touch    bool
	at       image.Point // of the touch's beginning
	look     bool
}

// A reader makes acts of observed events.
type reader struct {
	acts    []act
	fingers map[byte][]sample
	held    []key // keys that are down or were in this chord
	down    int   // keys that are down
	turned  *turn
	rolled  *turn
	strange map[link.EventKind]int // what no step can do
	record  key                    // the record key; zero where there is none
	look    func(at time.Duration) // called when it is pressed
}

type sample struct {
	at time.Duration
	p  image.Point
}

type key struct{ page, id uint16 }

type turn struct {
	from, to time.Duration
	by       int
	knob     byte
}

// observed is an event at its time on the host's clock.
type observed struct {
	at time.Duration
	e  link.Event
}

// gestures reads events into acts, in order. look is called for each press of the record key.
func gestures(events []observed, record key, look func(time.Duration)) (acts []act, strange map[link.EventKind]int) {
	r := &reader{fingers: map[byte][]sample{}, strange: map[link.EventKind]int{}, record: record, look: look}
	var pressed time.Duration
	for _, o := range events {
		k := key{uint16(o.e.A), uint16(o.e.B)}
		if o.e.Kind != link.Turn {
			r.endTurn()
		}
		if o.e.Kind != link.Roll {
			r.endRoll()
		}
		switch o.e.Kind {
		case link.TouchDown:
			r.fingers[o.e.C] = []sample{{o.at, image.Pt(o.e.A, o.e.B)}}
		case link.TouchMove, link.TouchUp:
			r.touch(o)
		case link.KeyDown:
			if record != (key{}) && k == record {
				look(o.at)
				continue
			}
			if len(r.held) == 0 {
				pressed = o.at
			}
			r.press(k)
		case link.KeyUp:
			if record != (key{}) && k == record {
				continue
			}
			r.release(pressed, o.at)
		case link.Turn:
			r.turn(&r.turned, o)
		case link.Roll:
			r.turn(&r.rolled, o)
		default:
			r.strange[o.e.Kind]++
		}
	}
	r.endTurn()
	r.endRoll()
	return r.acts, r.strange
}

// touch takes the rest of a touch; one whose beginning was not seen is left out.
func (r *reader) touch(o observed) {
	path, ok := r.fingers[o.e.C]
	if !ok {
		return
	}
	path = append(path, sample{o.at, image.Pt(o.e.A, o.e.B)})
	r.fingers[o.e.C] = path
	if o.e.Kind == link.TouchMove {
		return
	}
	delete(r.fingers, o.e.C)
	if o.e.C != 0 { // a walk has one finger
		r.strange[link.TouchDown]++
		return
	}
	r.acts = append(r.acts, gesture(path))
}

// gesture reads one touch from its samples.
func gesture(path []sample) act {
	first, last := path[0], path[len(path)-1]
	a := act{from: first.at, to: last.at, touch: true, at: first.p}
	over := last.at - first.at
	far, off := 0.0, 0.0
	for _, s := range path {
		far = math.Max(far, distance(s.p, first.p))
		off = math.Max(off, offLine(s.p, first.p, last.p))
	}
	switch {
	case far > slop:
		a.step = fmt.Sprintf("drag: {from: [%d, %d], to: [%d, %d], over: %v}", first.p.X, first.p.Y, last.p.X, last.p.Y,
			max(over.Round(10*time.Millisecond), 20*time.Millisecond))
		if off > bow {
			a.notes = append(a.notes, fmt.Sprintf("the finger went by a curve, %.0f px off this straight line", off))
		}
	case over >= longPress:
		a.step = fmt.Sprintf("hold: {at: [%d, %d], for: %v}", first.p.X, first.p.Y, over.Round(10*time.Millisecond))
	default:
		a.step = fmt.Sprintf("tap: [%d, %d]", first.p.X, first.p.Y)
	}
	return a
}

func distance(a, b image.Point) float64 { return math.Hypot(float64(a.X-b.X), float64(a.Y-b.Y)) }

// offLine is the distance of p from the stretch between a and b.
func offLine(p, a, b image.Point) float64 {
	long := distance(a, b)
	if long == 0 {
		return distance(p, a)
	}
	ab, ap := b.Sub(a), p.Sub(a)
	along := float64(ab.X*ap.X+ab.Y*ap.Y) / (long * long)
	along = math.Max(0, math.Min(1, along))
	return math.Hypot(float64(ap.X)-along*float64(ab.X), float64(ap.Y)-along*float64(ab.Y))
}

func (r *reader) press(k key) {
	for _, h := range r.held {
		if h == k {
			return // the device repeats a key that is held
		}
	}
	r.held = append(r.held, k)
	r.down++
}

// release ends a chord when the last of its keys is let go. Letters that overlap are fast typing.
func (r *reader) release(from, at time.Duration) {
	if r.down == 0 {
		return // it was pressed before anybody looked
	}
	if r.down--; r.down > 0 {
		return
	}
	chord := r.held
	r.held = nil
	typed := true
	for _, k := range chord {
		typed = typed && k.page == 7 && k.id >= 0x04 && k.id <= 0x27 // a to z and the digits
	}
	groups := [][]key{chord}
	if typed {
		groups = nil
		for _, k := range chord {
			groups = append(groups, []key{k})
		}
	}
	for _, g := range groups {
		a := act{from: from, to: at}
		var names []string
		for _, k := range g {
			name, ok := suites.KeyName(k.page, k.id)
			if !ok {
				r.strange[link.KeyDown]++
				names = nil
				break
			}
			names = append(names, scalar(name))
		}
		switch len(names) {
		case 0:
			continue
		case 1:
			a.step = "key: " + names[0]
		default:
			a.step = "key: [" + strings.Join(names, ", ") + "]"
		}
		if held := at - from; held >= longPress {
			a.notes = append(a.notes, fmt.Sprintf("the key was held for %v; a walk presses it shortly", held.Round(100*time.Millisecond)))
		}
		r.acts = append(r.acts, a)
	}
}

// turn adds detents or wheel steps to those just before, unless their way, knob or time is another.
func (r *reader) turn(t **turn, o observed) {
	if have := *t; have != nil && (have.by > 0) == (o.e.A > 0) && have.knob == o.e.C && o.at-have.to < turnPause {
		have.by += o.e.A
		have.to = o.at
		return
	}
	r.endTurn()
	r.endRoll()
	*t = &turn{from: o.at, to: o.at, by: o.e.A, knob: o.e.C}
}

func (r *reader) endTurn() {
	if t := r.turned; t != nil && t.by != 0 {
		step := fmt.Sprintf("turn: %d", t.by)
		if t.knob != 0 {
			step = fmt.Sprintf("turn: {by: %d, knob: %d}", t.by, t.knob)
		}
		r.acts = append(r.acts, act{from: t.from, to: t.to, step: step})
	}
	r.turned = nil
}

func (r *reader) endRoll() {
	if t := r.rolled; t != nil && t.by != 0 {
		r.acts = append(r.acts, act{from: t.from, to: t.to, step: fmt.Sprintf("roll: %d", t.by)})
	}
	r.rolled = nil
}
