package suites

import (
	"context"
	"fmt"
	"image"
	"strconv"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/suites/record"
)

func (b *Bench) do(ctx context.Context, a Action) error {
	if b.walk == nil {
		return fmt.Errorf("%s: no walk was begun", a.Says().Says)
	}
	if err := b.d.take(ctx, Step{Do: a}); err != nil {
		b.end(ctx, err.Error())
		return err
	}
	return nil
}

// Tap touches a place, in panel pixels.
func (b *Bench) Tap(ctx context.Context, x, y int) error {
	return b.do(ctx, Tap{spot{X: x, Y: y}})
}

// TapOn touches something by its name.
func (b *Bench) TapOn(ctx context.Context, name string) error { return b.do(ctx, TapOn{Name: name}) }

// Hold touches a place for a while.
func (b *Bench) Hold(ctx context.Context, x, y int, d time.Duration) error {
	return b.do(ctx, HoldTouch{spot{X: x, Y: y}, d})
}

// Drag touches, moves and lets go.
func (b *Bench) Drag(ctx context.Context, from, to image.Point, over time.Duration) error {
	return b.do(ctx, Drag{spot{X: from.X, Y: from.Y}, spot{X: to.X, Y: to.Y}, over})
}

// Key presses keys together, by their USB HID usage names.
func (b *Bench) Key(ctx context.Context, names ...string) error {
	k := Key{Names: names}
	for _, name := range names {
		u, ok := keyTable()[name]
		if !ok {
			return fmt.Errorf("unknown key %q%s", name, nearKeys(name))
		}
		k.usages = append(k.usages, u)
	}
	return b.do(ctx, k)
}

// Type types a text.
func (b *Bench) Type(ctx context.Context, text string) error { return b.do(ctx, Type{text}) }

// Turn turns the first knob by detents, clockwise positive.
func (b *Bench) Turn(ctx context.Context, by int) error { return b.do(ctx, Turn{By: by}) }

// Wait lets time pass on the device's clock.
func (b *Bench) Wait(ctx context.Context, d time.Duration) error { return b.do(ctx, Wait{d}) }

// Settle waits until the picture is still.
func (b *Bench) Settle(ctx context.Context) error {
	return b.do(ctx, Settle{defaultStill, defaultLatest})
}

// Clock sets the device's wall clock and holds it.
func (b *Bench) Clock(ctx context.Context, t time.Time) error { return b.do(ctx, Clock{Set: t}) }

// Feed gives the firmware a value by name; several values are a list.
func (b *Bench) Feed(ctx context.Context, name string, values ...string) error {
	return b.do(ctx, Feed{[]Value{{Name: name, Text: strings.Join(values, "\n")}}})
}

// Exec calls a command that the bench's file names.
func (b *Bench) Exec(ctx context.Context, name string) error { return b.do(ctx, Exec{name}) }

// Log expects a line printed since the last input; * in the pattern stands for any text.
func (b *Bench) Log(ctx context.Context, pattern string) (record.Expectation, error) {
	return b.expectation(ctx, Log{pattern})
}

// Within expects that the picture is settled so soon after the last input.
func (b *Bench) Within(ctx context.Context, d time.Duration) (record.Expectation, error) {
	return b.expectation(ctx, Within{d})
}

// Lamp expects a lamp to be on, off, or of a colour: "#20c040" or a name.
func (b *Bench) Lamp(ctx context.Context, name, want string) (record.Expectation, error) {
	return b.expectation(ctx, Lamp{[]lampState{{name, want}}})
}

// Sweep steps a control over its range and expects the panel's light to follow. Here the
// control is a feed, and Over its values.
func (b *Bench) Sweep(ctx context.Context, s Sweep) (record.Expectation, error) {
	if s.Name == "" || s.Feed == "" || len(s.Over) < 2 {
		return record.Expectation{}, fmt.Errorf("sweep %q: it needs a name, a feed and two places at least", s.Name)
	}
	for _, v := range s.Over {
		s.texts = append(s.texts, strconv.FormatFloat(v, 'g', -1, 64))
	}
	if s.Still == (Settle{}) {
		s.Still = Settle{defaultStill, defaultLatest}
	}
	return b.expectation(ctx, s)
}

// Glass shows test cards and expects that photos show what the framebuffer holds; uniformity 0 is not asked.
func (b *Bench) Glass(ctx context.Context, uniformity float64) (record.Expectation, error) {
	return b.expectation(ctx, Glass{uniformity})
}

func (b *Bench) expectation(ctx context.Context, a Action) (record.Expectation, error) {
	before := len(b.run.Expectations)
	if err := b.do(ctx, a); err != nil {
		return record.Expectation{}, err
	}
	if len(b.run.Expectations) == before {
		return record.Expectation{}, fmt.Errorf("%s: nothing was expected", a.Says().Says)
	}
	return b.run.Expectations[len(b.run.Expectations)-1], nil
}
