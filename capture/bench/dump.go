package bench

import (
	"context"
	"errors"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/link/line"
)

// A DumpDevice is a device without an agent: it can be asked for its framebuffer, and for nothing
// else. Input is a matter of somebody's hand.
type DumpDevice struct {
	dump  *line.Dump
	b     *Bench
	start time.Time
	hello link.Hello
	bytes int64
}

// dumpPatience bounds one dump: 480x320 in RGB565 takes 27 s at 115,200 baud.
const dumpPatience = time.Minute

// IsDump reports whether the bench's device has no agent.
func (b *Bench) IsDump() bool { return strings.HasPrefix(b.Link, "dump:") }

// OpenDump opens the line of a device without an agent and takes a first dump, to see that it answers.
func (b *Bench) OpenDump(ctx context.Context, opt Options) (*DumpDevice, error) {
	text := strings.TrimPrefix(b.Link, "dump:")
	d, err := line.OpenDump(ctx, text, line.Options{Lines: b.Lines, Dir: b.Dir, Notice: func(text string) {
		if opt.Log != nil {
			opt.Log(link.LogLine{Text: "fascia: " + text})
		}
	}})
	if err != nil {
		return nil, b.errorAt("link", "%v", err)
	}
	dev := &DumpDevice{dump: d, b: b, start: time.Now()}
	f, err := dev.grab(ctx)
	if err != nil {
		d.Close()
		return nil, b.errorAt("link", "%v", err)
	}
	dev.hello = link.Hello{Width: f.Width, Height: f.Height, Format: f.Format, Device: "unknown (no agent)", Build: "unknown"}
	if says := (Panel{f.Width, f.Height, f.Format}); b.Panel != nil && *b.Panel != says {
		d.Close()
		return nil, b.errorAt("panel", "the link says the panel is %v, this says %v: one of the two is to be corrected", says, *b.Panel)
	}
	return dev, nil
}

func (d *DumpDevice) grab(ctx context.Context) (*capture.Frame, error) {
	ctx, cancel := context.WithTimeout(ctx, dumpPatience)
	defer cancel()
	f, err := d.dump.Grab(ctx)
	if err == nil {
		d.bytes += int64(len(f.Pix))
	}
	return f, err
}

// Hello says what the link's settings say; the device has no voice.
func (d *DumpDevice) Hello() link.Hello { return d.hello }

// Now is real time.
func (d *DumpDevice) Now() time.Duration { return time.Since(d.start) }

// Wire counts pixels' bytes; what was sent to ask for them is not worth counting.
func (d *DumpDevice) Wire() (up, down int64) { return 0, d.bytes }

// Close closes the line.
func (d *DumpDevice) Close() error { return d.dump.Close() }

// Look takes dumps until two of them, still apart, are the same, or latest is over.
func (d *DumpDevice) Look(ctx context.Context, opt link.LookOptions) (link.Look, error) {
	if opt.Redraw {
		return link.Look{}, link.ErrUnsupported
	}
	start, bytes := time.Now(), d.bytes
	f, err := d.grab(ctx)
	if err != nil {
		return link.Look{}, err
	}
	moving := opt.Still > 0
	for moving {
		if err := pause(ctx, opt.Still); err != nil {
			return link.Look{}, err
		}
		next, err := d.grab(ctx)
		if err != nil {
			return link.Look{}, err
		}
		moving = !capture.Changed(f, next).Empty()
		f = next
		if time.Since(start) >= opt.Latest {
			break
		}
	}
	return link.Look{Frame: f, Hash: link.HashFrame(f), Moving: moving, Took: time.Since(start), Bytes: d.bytes - bytes}, nil
}

// Settle is a look whose picture nobody wants.
func (d *DumpDevice) Settle(ctx context.Context, still, latest time.Duration) (bool, error) {
	_, moving, err := d.Glance(ctx, still, latest)
	return moving, err
}

// Glance is Settle with the hash of what is shown then.
func (d *DumpDevice) Glance(ctx context.Context, still, latest time.Duration) (uint64, bool, error) {
	l, err := d.Look(ctx, link.LookOptions{Still: still, Latest: latest})
	return l.Hash, l.Moving, err
}

// Wait lets real time pass.
func (d *DumpDevice) Wait(ctx context.Context, t time.Duration) error { return pause(ctx, t) }

func pause(ctx context.Context, t time.Duration) error {
	select {
	case <-time.After(t):
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// What a device without an agent cannot do is refused before a walk begins; these are for completeness.
var errNoAgent = errors.New("the device has no agent")

// Input and the rest need an agent.
func (d *DumpDevice) Input(context.Context, link.Event) error         { return errNoAgent }
func (d *DumpDevice) SetClock(context.Context, time.Time, bool) error { return errNoAgent }
func (d *DumpDevice) HoldClock(context.Context, bool) error           { return errNoAgent }
func (d *DumpDevice) StepClock(context.Context, time.Duration) error  { return errNoAgent }
func (d *DumpDevice) Feed(context.Context, string, string) error      { return errNoAgent }
func (d *DumpDevice) List(context.Context, link.ListKind) ([]link.Item, error) {
	return nil, errNoAgent
}

// CanReset reports whether the bench can take the power.
func (d *DumpDevice) CanReset() bool { return d.HasPower() }

// HasPower reports whether the bench can take the device's power away.
func (d *DumpDevice) HasPower() bool { return d.b.PowerOff != "" }

// Reset is a power cycle.
func (d *DumpDevice) Reset(ctx context.Context, patience time.Duration) error {
	return d.PowerCycle(ctx, patience)
}

// PowerCycle takes the device's power for two seconds and waits until it gives a dump again.
func (d *DumpDevice) PowerCycle(ctx context.Context, patience time.Duration) error {
	if err := d.b.cyclePower(ctx); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	for {
		_, err := d.grab(ctx)
		if err == nil || ctx.Err() != nil {
			return err
		}
	}
}

// Branch is for twins.
func (d *DumpDevice) Branch() (func() error, error) { return nil, nil }
