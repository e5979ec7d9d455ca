package link

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"strings"
	"time"
)

// An EventKind is a kind of input; the numbers are those of the link.
type EventKind byte

// Kinds of input, with what A, B and C of an Event mean.
const (
	TouchDown  EventKind = 1 + iota // A, B: x, y in pixels; C: finger
	TouchMove                       // as TouchDown
	TouchUp                         // as TouchDown
	KeyDown                         // A: USB HID usage page, B: usage
	KeyUp                           // as KeyDown
	Text                            // Text: UTF-8
	Turn                            // A: detents, clockwise positive; C: knob, from 0
	Point                           // A, B: pointer moves by pixels
	ButtonDown                      // A: pointer button, from 1
	ButtonUp                        // as ButtonDown
	Roll                            // A: wheel steps
)

// An Event is one input.
type Event struct {
	Kind EventKind
	A, B int
	C    byte
	Text string
	// After is how long after the previous event it happens, kept by the device's own clock.
	After time.Duration
}

// Input injects an event and returns when the firmware has been given it.
func (c *Conn) Input(ctx context.Context, e Event) error {
	ms := e.After.Milliseconds()
	if ms < 0 || ms > 0xffff {
		return fmt.Errorf("an input %v after the last is not between 0 and 65 s", e.After)
	}
	args := []byte{byte(ms), byte(ms >> 8), byte(e.Kind)}
	if e.Kind == Text {
		args = append(args, e.Text...)
		if strings.ContainsRune(e.Text, 0) || len(args)+2 > c.hello.MaxRequest {
			return fmt.Errorf("the text is longer than the %d bytes the device takes at once", c.hello.MaxRequest-5)
		}
	} else {
		if int(int16(e.A)) != e.A || int(int16(e.B)) != e.B {
			return fmt.Errorf("input %d,%d is out of range", e.A, e.B)
		}
		args = append(args, byte(e.A), byte(e.A>>8), byte(e.B), byte(e.B>>8), e.C)
	}
	_, err := c.do(ctx, kindInput, args, e.After)
	return err
}

// Wait lets d pass on the device's clock.
func (c *Conn) Wait(ctx context.Context, d time.Duration) error {
	_, err := c.do(ctx, kindWait, binary.LittleEndian.AppendUint32(nil, uint32(d.Milliseconds())), d)
	return err
}

// A ClockOp is something done to the device's wall clock.
type ClockOp byte

// What can be done to the clock.
const (
	ClockSetHeld ClockOp = 1 + iota
	ClockSetRun
	ClockHold
	ClockRun
	ClockStep
)

func (c *Conn) clock(ctx context.Context, op ClockOp, value int64) error {
	_, err := c.do(ctx, kindClock, binary.LittleEndian.AppendUint64([]byte{byte(op)}, uint64(value)), 0)
	return err
}

// SetClock sets the device's wall clock to t as its face shows it (the zone is left out), and
// holds it there or lets it run.
func (c *Conn) SetClock(ctx context.Context, t time.Time, held bool) error {
	face := time.Date(t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), t.Second(), t.Nanosecond(), time.UTC)
	op := ClockSetRun
	if held {
		op = ClockSetHeld
	}
	return c.clock(ctx, op, face.UnixMilli())
}

// HoldClock holds the wall clock, or lets it run.
func (c *Conn) HoldClock(ctx context.Context, held bool) error {
	if held {
		return c.clock(ctx, ClockHold, 0)
	}
	return c.clock(ctx, ClockRun, 0)
}

// StepClock moves a held clock on.
func (c *Conn) StepClock(ctx context.Context, d time.Duration) error {
	return c.clock(ctx, ClockStep, d.Milliseconds())
}

// Feed gives the firmware a value by name. Items of a list are separated by newlines.
func (c *Conn) Feed(ctx context.Context, name, value string) error {
	args := append(append([]byte(name), 0), value...)
	if strings.ContainsRune(name+value, 0) {
		return errors.New("a value fed to the device may not hold a zero byte")
	}
	if len(args)+2 > c.hello.MaxRequest {
		return fmt.Errorf("name and value are longer than the %d bytes the device takes at once", c.hello.MaxRequest-3)
	}
	_, err := c.do(ctx, kindFeed, args, 0)
	return err
}

// Pattern shows a test pattern; no arguments bring the UI back.
func (c *Conn) Pattern(ctx context.Context, args ...byte) error {
	_, err := c.do(ctx, kindPattern, args, 0)
	return err
}

// A ListKind is something that a device can enumerate.
type ListKind byte

// What a device can list.
const (
	Feeds   ListKind = 1 + iota // name
	Gauges                      // name=decimal
	Lamps                       // name=#rrggbb
	Targets                     // name=x,y,w,h
	Keys                        // name=page:usage
)

// An Item of a list: its name, and its value where the list has values.
type Item struct{ Name, Value string }

// List enumerates; a device that cannot gives ErrUnsupported.
func (c *Conn) List(ctx context.Context, what ListKind) ([]Item, error) {
	if !c.hello.Has(CanList) {
		return nil, ErrUnsupported
	}
	data, _, err := c.fetch(ctx, kindList, []byte{byte(what)})
	if err != nil {
		return nil, err
	}
	var items []Item
	for line := range strings.Lines(string(data)) {
		name, value, _ := strings.Cut(strings.TrimSuffix(line, "\n"), "=")
		items = append(items, Item{name, value})
	}
	return items, nil
}

// Observe starts or stops reporting what the user does.
func (c *Conn) Observe(ctx context.Context, on bool) error {
	var arg byte
	if on {
		arg = 1
	}
	_, err := c.do(ctx, kindObserve, []byte{arg}, 0)
	return err
}

// An Observation is an input that the user gave.
type Observation struct {
	Number uint16        // counts up from 1; a jump means that some were lost
	At     time.Duration // on the device's clock
	Event  Event
}

// Observed returns what the user did after the observation with that number (0: from the first).
func (c *Conn) Observed(ctx context.Context, after uint16) ([]Observation, error) {
	data, _, err := c.fetch(ctx, kindObserved, []byte{byte(after), byte(after >> 8)})
	if err != nil {
		return nil, err
	}
	if len(data)%12 != 0 {
		return nil, errors.New("observations do not come in twelve bytes each")
	}
	var seen []Observation
	le := binary.LittleEndian
	for ; len(data) > 0; data = data[12:] {
		seen = append(seen, Observation{le.Uint16(data), time.Duration(le.Uint32(data[2:])) * time.Millisecond, Event{
			Kind: EventKind(data[6]), A: int(int16(le.Uint16(data[7:]))), B: int(int16(le.Uint16(data[9:]))), C: data[11]}})
	}
	return seen, nil
}

// Reset restarts the device and waits until it has said hello with another boot id.
func (c *Conn) Reset(ctx context.Context, patience time.Duration) error {
	before := c.hello.Boot
	if _, err := c.do(ctx, kindReset, nil, 0); err != nil {
		var restarted *RestartError
		if !errors.As(err, &restarted) {
			return fmt.Errorf("reset: %w", err)
		}
	}
	until := c.s.Now() + patience
	for {
		err := c.Greet(ctx)
		if err == nil && c.hello.Boot != before {
			return nil
		}
		if err != nil && !errors.Is(err, ErrSilent) {
			return err
		}
		if c.s.Now() >= until {
			return fmt.Errorf("reset: the device did not start anew within %v", patience)
		}
		if err == nil {
			if err := c.Wait(ctx, 20*time.Millisecond); err != nil && ctx.Err() != nil {
				return err
			}
		}
	}
}
