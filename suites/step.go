package suites

import (
	"fmt"
	"image"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture/bench/yamlfile"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/compare/photo"
	"github.com/fascia-bench/fascia/suites/record"
)

// A Step is one line of a walk.
type Step struct {
	At yamlfile.Place // where it stands
	Do Action
}

// line is where the step stands in its file; 0 for a step of a Go spec.
func (s Step) line() int {
	if !s.At.Valid() {
		return 0
	}
	return s.At.Line()
}

// place names the step's file and line.
func (s Step) place() string {
	if !s.At.Valid() {
		return "spec"
	}
	return fmt.Sprintf("%s:%d", s.At.Path(), s.At.Line())
}

// An Action is what a step does: one of the types below.
type Action interface {
	// Says is the step in words, for a trail.
	Says() record.Input
}

// A spot is a point on the panel, and where it is written.
type spot struct {
	X, Y int
	at   yamlfile.Place
}

func (s spot) String() string { return fmt.Sprintf("%d,%d", s.X, s.Y) }
func (s spot) pair() [2]int   { return [2]int{s.X, s.Y} }

// The actions that a walk can take.
type (
	// ResetDevice starts the device anew.
	ResetDevice struct{}
	// Wait lets time pass on the device's clock.
	Wait struct{ For time.Duration }
	// Settle waits until nothing has changed for Still, at the latest until Latest.
	Settle struct{ Still, Latest time.Duration }
	// Clock sets, holds, runs or steps the device's wall clock.
	Clock struct {
		Set  time.Time // zero: do not set
		Run  bool      // after setting, or alone: let it run
		Hold bool      // alone: hold it
		Step time.Duration
	}
	// Feed gives the firmware values by name, in the order of the file.
	Feed struct{ Values []Value }
	// Tap touches and lets go.
	Tap struct{ Spot spot }
	// TapOn touches the middle of something that the device, or an area of the walk, has by name.
	TapOn struct {
		Name string
		at   yamlfile.Place
	}
	// HoldTouch touches for a while.
	HoldTouch struct {
		Spot spot
		For  time.Duration
	}
	// Drag touches, moves and lets go.
	Drag struct {
		From, To spot
		Over     time.Duration
	}
	// Key presses keys together, the first first.
	Key struct {
		Names  []string
		usages []usage
		at     []yamlfile.Place
	}
	// Type types text.
	Type struct{ Text string }
	// Turn turns a knob by detents, clockwise positive.
	Turn struct{ By, Knob int }
	// Roll turns the wheel of a pointing device.
	Roll struct{ By int }
	// Exec calls a command that the bench's file has under a name.
	Exec struct{ Name string }
	// TakeLook captures the panel and compares.
	TakeLook struct {
		Name   string
		File   string // its file name
		Ignore []ignored
		Allow  []compare.Tolerance
		Settle Settle
		Aside  *Aside // set aside for a while; nil: not
		// For the handbook and the report: what the picture shows in a sentence, which screen it is a picture
		// of, and in which language.
		Note, Screen, Language string
	}
	// Redraw expects that a full redraw shows what the updates before it left on the panel.
	Redraw struct{}
	// Steady expects that the picture or a gauge is what it was at the walk's first steady of that name.
	Steady struct {
		Name  string
		Gauge bool // a gauge of the device, else the picture
	}
	// Lamp expects lamps to be on, off or of a colour: those that the device reports, and those that the bench's
	// camera sees.
	Lamp struct{ Want []lampState }
	// Sweep steps a control over its range and expects the panel's light to follow.
	Sweep struct {
		Name string
		// What moves the control to its next place: a feed by its name, a turn by detents, or a key. One is set.
		Feed  string
		Turn  int
		Key   Key
		Over  []float64 // the control's places, in order; of a feed, its values
		Still Settle
		Check photo.Limits

		texts []string // of Over, as they are written
		at    yamlfile.Place
	}
	// Glass shows test cards and expects that the photos show what the framebuffer holds.
	Glass struct {
		Uniformity float64 // least light of a white panel over the greatest; 0: not asked
	}
	// Hand asks a person to do something and waits until the picture has changed and is still.
	Hand struct {
		Ask      string
		Patience time.Duration
	}
	// Log expects a line that the firmware prints after the last input.
	Log struct{ Pattern string }
	// Within expects that the picture is settled so soon after the last input.
	Within struct{ Time time.Duration }
)

// A Value is one value fed by name.
type Value struct {
	Name, Text string // items of a list are separated by newlines
	at         yamlfile.Place
}

// An Aside lets a look fail without failing the run, until the end of a day.
type Aside struct {
	Until time.Time
	Why   string
}

// lampState is what a lamp is meant to be: on, off, a colour as #rrggbb, or a colour's name.
type lampState struct{ name, want string }

// ignored is an area of a look that does not count.
type ignored struct {
	Area string
	Rect image.Rectangle
	Why  string
}

func says(format string, args ...any) record.Input {
	return record.Input{Says: fmt.Sprintf(format, args...)}
}

// Says of each action; see Action.
func (ResetDevice) Says() record.Input { return says("start the device anew") }
func (w Wait) Says() record.Input      { return says("wait %v", w.For) }
func (s Settle) Says() record.Input    { return says("settle") }
func (c Clock) Says() record.Input {
	switch {
	case !c.Set.IsZero():
		return says("clock %s", c.Set.Format("2006-01-02 15:04:05"))
	case c.Step > 0:
		return says("clock +%v", c.Step)
	case c.Hold:
		return says("hold the clock")
	}
	return says("let the clock run")
}
func (f Feed) Says() record.Input {
	var parts []string
	for _, v := range f.Values {
		parts = append(parts, v.Name+" "+strings.ReplaceAll(v.Text, "\n", ", "))
	}
	return says("feed %s", strings.Join(parts, "; "))
}
func (t Tap) Says() record.Input {
	return record.Input{Says: "tap " + t.Spot.String(), Points: [][2]int{t.Spot.pair()}}
}
func (t TapOn) Says() record.Input { return says("tap %s", t.Name) }
func (h HoldTouch) Says() record.Input {
	return record.Input{Says: fmt.Sprintf("hold %v for %v", h.Spot, h.For), Points: [][2]int{h.Spot.pair()}}
}
func (d Drag) Says() record.Input {
	return record.Input{Says: fmt.Sprintf("drag %v to %v", d.From, d.To), Points: [][2]int{d.From.pair(), d.To.pair()}}
}
func (k Key) Says() record.Input      { return says("key %s", strings.Join(k.Names, " + ")) }
func (t Type) Says() record.Input     { return says("type %q", t.Text) }
func (t Turn) Says() record.Input     { return says("turn %+d", t.By) }
func (r Roll) Says() record.Input     { return says("roll %+d", r.By) }
func (e Exec) Says() record.Input     { return says("exec %s", e.Name) }
func (Redraw) Says() record.Input     { return says("redraw") }
func (l Lamp) Says() record.Input     { return says("lamp") }
func (s Steady) Says() record.Input   { return says("%s", s.what()) }
func (s Sweep) Says() record.Input    { return says("sweep %s", s.Name) }
func (Glass) Says() record.Input      { return says("glass") }
func (h Hand) Says() record.Input     { return says("by hand: %s", h.Ask) }
func (l TakeLook) Says() record.Input { return says("look %s", l.Name) }
func (l Log) Says() record.Input      { return says("log %s", l.Pattern) }
func (w Within) Says() record.Input   { return says("within %v", w.Time) }
