package bench

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/link/line"
	"github.com/fascia-bench/fascia/capture/twin"
)

// BuiltIn is the device that `twin:` without a file means. It is handed in by the command, so that
// this package knows no demo.
type BuiltIn []byte

// Options of Open.
type Options struct {
	BuiltIn BuiltIn
	// Log gets the firmware's log lines, and what happens to the line; may be nil.
	Log func(link.LogLine)
}

// A Device is an open bench: the link's conversation, and what the bench can do beside it.
type Device struct {
	*link.Conn
	b    *Bench
	port *line.Stream // nil where there are no lines to pulse
	twin *twin.Twin   // nil on real devices
}

// Branch remembers this moment of the device and returns a function that brings it back, which a twin
// can do in microseconds; nil where the device cannot.
func (d *Device) Branch() (back func() error, err error) {
	if d.twin == nil {
		return nil, nil
	}
	s, err := d.twin.Snapshot()
	if err != nil {
		return nil, err
	}
	mark := d.Mark()
	return func() error {
		if err := d.twin.Restore(s); err != nil {
			return err
		}
		mark()
		return nil
	}, nil
}

// Open opens the bench's link and says hello. It refuses a device whose panel or build is not the one
// that the bench's file expects.
func (b *Bench) Open(ctx context.Context, opt Options) (*Device, error) {
	d := &Device{b: b}
	s, err := b.stream(ctx, opt, d)
	if err != nil {
		return nil, b.errorAt("link", "%v", err)
	}
	d.Conn, err = link.Dial(ctx, s, link.Options{Log: opt.Log})
	if err != nil {
		s.Close()
		return nil, b.errorAt("link", "%v", err)
	}
	if err := d.check(ctx); err != nil {
		d.Close()
		return nil, err
	}
	return d, nil
}

// check holds the device's hello against what the bench's file says.
func (d *Device) check(ctx context.Context) error {
	h, b := d.Hello(), d.b
	if says := (Panel{h.Width, h.Height, h.Format}); b.Panel != nil && *b.Panel != says {
		return b.errorAt("panel", "the device says its panel is %v, this file says %v: correct this line, or see whether it is the right device", says, *b.Panel)
	}
	if b.Build == "" {
		return nil
	}
	want, err := b.output(ctx, b.Build)
	if err != nil {
		return b.errorAt("build", "ask which build is expected: %v", err)
	}
	if want = strings.TrimSpace(want); want != h.Build {
		return b.errorAt("build", "the device runs build %q, and %q is expected: flash it, or correct this line", h.Build, want)
	}
	return nil
}

func (b *Bench) stream(ctx context.Context, opt Options, d *Device) (link.Stream, error) {
	kind, rest, _ := strings.Cut(b.Link, ":")
	switch kind {
	case "twin":
		s, err := b.twin(ctx, opt.BuiltIn, rest)
		d.twin = s.Twin
		return s, err
	case "dump":
		return nil, errors.New("a dump: link has no agent to talk to: it can be captured from, and walked with hand steps")
	case "serial", "tcp", "exec":
		notice := func(text string) {
			if opt.Log != nil {
				opt.Log(link.LogLine{Text: "fascia: " + text})
			}
		}
		s, err := line.Open(ctx, b.Link, line.Options{Lines: b.Lines, Dir: b.Dir, Notice: notice})
		if err != nil {
			return nil, err
		}
		d.port = s
		return s, nil
	}
	return nil, fmt.Errorf("the link %q is of no known kind: serial:PORT, tcp:HOST:PORT, exec:COMMAND, dump:…, twin:FILE.wasm, or twin: for the built-in device", b.Link)
}

func (b *Bench) twin(ctx context.Context, wasm []byte, file string) (ownedTwin, error) {
	if file != "" {
		var err error
		if wasm, err = os.ReadFile(filepath.Join(b.Dir, filepath.FromSlash(file))); err != nil {
			return ownedTwin{}, fmt.Errorf("open the twin: %w", err)
		}
	}
	p, err := twin.Load(ctx, wasm)
	if err != nil {
		return ownedTwin{}, err
	}
	t, err := p.Boot()
	if err != nil {
		p.Close()
		return ownedTwin{}, err
	}
	return ownedTwin{t, p}, nil
}

// ownedTwin closes its program with it.
type ownedTwin struct {
	*twin.Twin
	program *twin.Program
}

func (t ownedTwin) Close() error { return errors.Join(t.Twin.Close(), t.program.Close()) }

// CanReset reports whether the bench has a way to start the device anew.
func (d *Device) CanReset() bool {
	return d.Hello().Has(link.CanReset) || d.port != nil && d.b.Lines.Reset != "" || d.HasPower()
}

// HasPower reports whether the bench can take the device's power away.
func (d *Device) HasPower() bool { return d.b.PowerOff != "" }

// Reset starts the device anew: over the link if its agent can, else by the line or the power that the
// bench's file names.
func (d *Device) Reset(ctx context.Context, patience time.Duration) error {
	switch {
	case d.Hello().Has(link.CanReset):
		return d.Conn.Reset(ctx, patience)
	case d.port != nil && d.b.Lines.Reset != "":
		if err := d.port.Reset(); err != nil {
			return fmt.Errorf("reset: %w", err)
		}
		return d.await(ctx, patience)
	case d.HasPower():
		return d.PowerCycle(ctx, patience)
	}
	return link.ErrUnsupported
}

// PowerCycle takes the device's power for two seconds, gives it back and waits for its hello.
func (d *Device) PowerCycle(ctx context.Context, patience time.Duration) error {
	if err := d.b.cyclePower(ctx); err != nil {
		return err
	}
	return d.await(ctx, patience)
}

// cyclePower takes the device's power for two seconds and gives it back.
func (b *Bench) cyclePower(ctx context.Context) error {
	if _, err := b.output(ctx, b.PowerOff); err != nil {
		return fmt.Errorf("power off: %w", err)
	}
	if err := pause(ctx, 2*time.Second); err != nil { // for capacitors to empty; common practice, no source
		return err
	}
	if _, err := b.output(ctx, b.PowerOn); err != nil {
		return fmt.Errorf("power on: %w", err)
	}
	return nil
}

// await says hello until the device answers.
func (d *Device) await(ctx context.Context, patience time.Duration) error {
	for until := d.Now() + patience; ; {
		err := d.Greet(ctx)
		if err == nil || !errors.Is(err, link.ErrSilent) || d.Now() >= until {
			return err
		}
	}
}
