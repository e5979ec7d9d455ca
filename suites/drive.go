package suites

import (
	"context"
	"errors"
	"fmt"
	"image"
	"time"

	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/suites/record"
)

// A Device is what a walk needs of the bench; *bench.Device offers it.
type Device interface {
	Hello() link.Hello
	// Look blocks until a whole picture of one moment has arrived; never part of one.
	Look(context.Context, link.LookOptions) (link.Look, error)
	// Settle waits until the picture is still, at the latest until latest, and says if it was moving then.
	Settle(ctx context.Context, still, latest time.Duration) (moving bool, err error)
	// Glance is Settle with the hash of what is shown then: no picture travels.
	Glance(ctx context.Context, still, latest time.Duration) (hash uint64, moving bool, err error)
	Input(context.Context, link.Event) error
	Wait(context.Context, time.Duration) error
	SetClock(ctx context.Context, t time.Time, held bool) error
	HoldClock(ctx context.Context, held bool) error
	StepClock(context.Context, time.Duration) error
	Feed(ctx context.Context, name, value string) error
	// List enumerates what the device has: touch targets, lamps, gauges.
	List(ctx context.Context, what link.ListKind) ([]link.Item, error)
	// CanReset says whether there is a way to start the device anew, HasPower whether its power can be taken.
	CanReset() bool
	HasPower() bool
	Reset(ctx context.Context, patience time.Duration) error
	PowerCycle(ctx context.Context, patience time.Duration) error
	// Now is the time on the device's side of the link.
	Now() time.Duration
	// Wire counts the bytes that went up and down.
	Wire() (up, down int64)
}

const (
	bootPatience = 20 * time.Second      // for a device to say hello after a reset
	tapFor       = 60 * time.Millisecond // a finger on the glass
	moveEvery    = 20 * time.Millisecond // samples of a drag: what touch controllers report, common practice, no source
	detentEvery  = 20 * time.Millisecond // of a knob turned by hand, common practice, no source
	logPatience  = 2 * time.Second       // for a line that is expected
	logPoll      = 20 * time.Millisecond // between looks at the log
	logTail      = 50                    // lines kept of a device that died
	logBeside    = 20                    // lines kept beside a finding
)

// A driver takes the steps of one walk on a device.
type driver struct {
	dev    Device
	log    *logBook
	start  time.Duration // when the walk began
	input  time.Duration // when the last input was given
	mark   int           // lines of the log at the last input
	looked int           // lines of the log at the last look
	path   []record.Input
	prev   image.Image // what the last look showed

	prevGolden image.Image // what it should have shown; nil where it has no golden

	call   func(ctx context.Context, name string) error // runs a command of the bench's file
	note   func(text string)                            // tells what happened to the bench
	ask    func(ctx context.Context, text string) error // asks a person for a hand, or is one on a twin
	golden func(look string) image.Image                // of this walk; nil where there is none
	areas  map[string]image.Rectangle                   // of this walk
	seen   string                                       // name of the last look
	boot   time.Duration                                // from reset to hello
	eye    *eye                                         // the bench's camera; nil without one
	expect func(what string, line int, r record.Result, why string)
	swept  func(record.Sweep) // what the next expectation has measured

	steady map[Steady]noted // at the walk's first steady of each
	alive  witness
}

// begin resets the device and walks what the walk starts from.
func (d *driver) begin(ctx context.Context, w *Walk) error {
	if d.dev.CanReset() {
		reset := d.dev.Now()
		if err := d.restart(ctx, w); err != nil {
			return err
		}
		d.boot = d.dev.Now() - reset
	}
	d.log.death = "" // of the boot before
	d.steady, d.alive = nil, witness{}
	d.start = d.dev.Now()
	d.touched()
	return d.lead(ctx, w.From)
}

// restart resets the device. One that does not even answer is given its power anew, once.
func (d *driver) restart(ctx context.Context, w *Walk) error {
	err := d.dev.Reset(ctx, bootPatience)
	if errors.Is(err, link.ErrSilent) && d.dev.HasPower() {
		d.note(fmt.Sprintf("before walk %q the device did not answer and was given its power anew", w.Name))
		err = d.dev.PowerCycle(ctx, bootPatience)
	}
	return err
}

// lead walks a walk that another starts from. Its looks are tested where it is walked for itself:
// here they only settle.
func (d *driver) lead(ctx context.Context, w *Walk) error {
	if w == nil {
		return nil
	}
	if err := d.lead(ctx, w.From); err != nil {
		return err
	}
	d.path = append(d.path, says("walk %s", w.Name))
	for _, s := range w.Steps {
		switch a := s.Do.(type) {
		case TakeLook:
			if _, err := d.dev.Settle(ctx, a.Settle.Still, a.Settle.Latest); err != nil {
				return d.at(s, err)
			}
		case Log, Within, Redraw, Lamp, Steady, Glass: // expectations of the other walk
		default:
			before := len(d.path)
			if err := d.take(ctx, s); err != nil {
				return err
			}
			d.path = d.path[:before] // told as one: "walk home"
		}
	}
	return nil
}

// at says which step an error belongs to. That the device restarted needs no such help.
func (d *driver) at(s Step, err error) error {
	var restarted *link.RestartError
	if errors.As(err, &restarted) {
		return restarted
	}
	return fmt.Errorf("%s: %s: %w", s.place(), s.Do.Says().Says, err)
}

// touched notes that the device was just given something to react to.
func (d *driver) touched() {
	d.alive.gave(d.dev)
	d.input = d.dev.Now()
	d.mark = d.log.count()
}

// take takes one step, which is not a look.
func (d *driver) take(ctx context.Context, s Step) error {
	switch s.Do.(type) {
	case Log, Within, Settle, Redraw, Lamp, Steady, Glass:
	default:
		in := s.Do.Says()
		in.At = (d.dev.Now() - d.start).Seconds()
		d.path = append(d.path, in)
	}
	if err := d.do(ctx, s); err != nil {
		return d.at(s, err)
	}
	return d.log.died()
}

func (d *driver) do(ctx context.Context, s Step) error {
	switch a := s.Do.(type) {
	case ResetDevice:
		if err := d.dev.Reset(ctx, bootPatience); err != nil {
			return err
		}
		d.touched()
		return nil
	case Wait:
		for left := a.For; left > 0; left -= longest {
			if err := d.dev.Wait(ctx, min(left, longest)); err != nil {
				return err
			}
		}
		return nil
	case Settle:
		moving, err := d.dev.Settle(ctx, a.Still, a.Latest)
		if err == nil && moving {
			var why string
			if why, err = d.moving(ctx, a.Latest); err == nil {
				d.expect("settle", s.line(), record.Missed, why)
			}
		}
		return err
	case Clock:
		return d.clock(ctx, a)
	case Feed:
		d.touched()
		for _, v := range a.Values {
			if err := d.dev.Feed(ctx, v.Name, v.Text); err != nil {
				return fmt.Errorf("%s %q: %w", v.Name, v.Text, err)
			}
		}
		return nil
	case TapOn:
		return d.tapOn(ctx, a)
	case Redraw:
		return d.expectRedraw(ctx, s.line())
	case Lamp:
		return d.expectLamp(ctx, a, s.line())
	case Sweep:
		return d.expectSweep(ctx, a, s.line())
	case Glass:
		return d.expectGlass(ctx, a, s.line())
	case Steady:
		return d.expectSteady(ctx, a, s.line())
	case Hand:
		return d.hand(ctx, a)
	case Exec:
		d.touched()
		return d.call(ctx, a.Name)
	case Log:
		return d.expectLog(ctx, a, s.line())
	case Within:
		return d.expectWithin(ctx, a, s.line())
	}
	return d.inputs(ctx, events(s.Do))
}

func (d *driver) clock(ctx context.Context, c Clock) error {
	d.touched()
	switch {
	case !c.Set.IsZero():
		return d.dev.SetClock(ctx, c.Set, !c.Run)
	case c.Step > 0:
		return d.dev.StepClock(ctx, c.Step)
	}
	return d.dev.HoldClock(ctx, c.Hold)
}
