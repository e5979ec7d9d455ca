package suites

import (
	"context"
	"errors"
	"fmt"
	"image"
	"path/filepath"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites/record"
)

// A Bench is a device in the hands of a Go spec: the engine that walks YAML walks, for suites that want
// code. What happens goes into a run record like that of fascia run, in the bench's runs folder.
//
// Methods return an error where there is no verdict: the device is gone, or refuses. A look that differs is
// no error; it is a record.Look to hold against MatchGolden.
type Bench struct {
	s       *session
	dir     string
	run     *record.Run
	journal *record.Journal
	close   func()

	d     *driver
	walk  *Walk
	done  record.Walk
	began time.Time
	bytes int64
}

// OpenBench reads a bench.yaml, opens its device and begins a run.
func OpenBench(ctx context.Context, file string, builtIn bench.BuiltIn) (*Bench, error) {
	desc, err := bench.Read(file)
	if err != nil {
		return nil, err
	}
	store, err := golden.Open(filepath.Join(desc.Dir, GoldenDir))
	if err != nil {
		return nil, err
	}
	plan := &Plan{Bench: desc, Store: store}
	b := &Bench{}
	if b.dir, err = NewRun(plan, time.Now()); err != nil {
		return nil, err
	}
	b.run = Start(plan, b.dir, nil)
	b.journal = record.NewJournal(b.dir, b.run)
	b.s, b.close, err = open(ctx, plan, Config{RunDir: b.dir, BuiltIn: builtIn, Events: discard{}})
	if err != nil {
		return nil, err
	}
	b.s.out = sender{note: func(e Event) { apply(b.run, e) }}
	h := b.s.dev.Hello()
	b.run.Device = record.Device{Device: h.Device, Build: h.Build, Firmware: h.Firmware, Library: h.Library,
		Width: h.Width, Height: h.Height, Format: h.Format.String()}
	return b, b.journal.Save()
}

type discard struct{}

func (discard) Write(p []byte) (int, error) { return len(p), nil }

// Dir is the run's folder.
func (b *Bench) Dir() string { return b.dir }

// Record is the run's record as it stands.
func (b *Bench) Record() *record.Run { return b.run }

// Walk begins a walk: the device starts anew, and walks the walk in the file from first, if that is not "".
// Areas may be nil; they are what TapOn and a look's Ignore name.
func (b *Bench) Walk(ctx context.Context, name, from string, areas map[string]image.Rectangle) error {
	b.end(ctx, "")
	w := &Walk{Name: name, Areas: areas}
	var err error
	if w.Slug, err = golden.FileName(name); err != nil {
		return err
	}
	if from != "" {
		if w.From, err = newReader(b.s.plan.Bench).read(filepath.Join(b.s.plan.Bench.Dir, WalksDir, from)); err != nil {
			return err
		}
	}
	b.walk, b.d = w, b.s.driver(w)
	b.done = record.Walk{Walk: name, File: "Go spec"}
	b.began = time.Now()
	up, down := b.s.dev.Wire()
	b.bytes = up + down
	b.s.out.send(Event{Begin: &b.done})
	if err := b.s.begin(ctx, b.d, w); err != nil {
		b.end(ctx, err.Error())
		return err
	}
	b.done.Boot = b.d.boot.Seconds()
	return nil
}

// end enters what the walk took into the record.
func (b *Bench) end(ctx context.Context, why string) {
	if b.walk == nil {
		return
	}
	b.done.Took = time.Since(b.began).Seconds()
	b.done.DeviceTook = (b.s.dev.Now() - b.d.start).Seconds()
	up, down := b.s.dev.Wire()
	b.done.Wire = up + down - b.bytes
	if why == "" {
		if err := b.d.alive.testify(ctx, b.s.dev); err != nil {
			why = err.Error()
		}
	}
	b.done.Done, b.done.Why = true, why
	b.s.out.send(Event{End: &b.done})
	b.walk = nil
}

// Close ends the run and writes its record.
func (b *Bench) Close() error {
	b.end(context.Background(), "")
	b.close()
	b.run.Ended = time.Now().UTC().Truncate(time.Millisecond)
	return b.journal.Save()
}

// A LookOption says more about a look.
type LookOption func(*TakeLook, map[string]image.Rectangle) error

// Ignore leaves an area of the walk out of the comparison, for a reason.
func Ignore(area, why string) LookOption {
	return func(l *TakeLook, areas map[string]image.Rectangle) error {
		r, ok := areas[area]
		if !ok || strings.TrimSpace(why) == "" {
			return fmt.Errorf("ignore %q: it must be an area of the walk, and have a reason", area)
		}
		l.Ignore = append(l.Ignore, ignored{area, r, why})
		return nil
	}
}

// Allow forgives differences within a tolerance; its Reason is needed.
func Allow(t compare.Tolerance) LookOption {
	return func(l *TakeLook, _ map[string]image.Rectangle) error {
		if strings.TrimSpace(t.Reason) == "" {
			return fmt.Errorf("a tolerance needs a reason")
		}
		l.Allow = append(l.Allow, t)
		return nil
	}
}

// Still says how long the picture must be still, and when to look anyway; zero and zero look at once.
func Still(still, latest time.Duration) LookOption {
	return func(l *TakeLook, _ map[string]image.Rectangle) error {
		l.Settle = Settle{still, latest}
		return nil
	}
}

// Note says in a sentence what the picture shows.
func Note(text string) LookOption {
	return func(l *TakeLook, _ map[string]image.Rectangle) error {
		l.Note = text
		return nil
	}
}

// Look captures the panel and compares it with the look's golden.
func (b *Bench) Look(ctx context.Context, name string, options ...LookOption) (record.Look, error) {
	if b.walk == nil {
		return record.Look{}, fmt.Errorf("look %s: no walk was begun", name)
	}
	l := TakeLook{Name: name, Settle: Settle{defaultStill, defaultLatest}}
	var err error
	if l.File, err = golden.FileName(name); err != nil {
		return record.Look{}, err
	}
	for _, o := range options {
		if err := o(&l, b.walk.Areas); err != nil {
			return record.Look{}, err
		}
	}
	for _, had := range b.run.Looks {
		if file, err := golden.FileName(had.Look); err == nil && had.Walk == b.walk.Name && file == l.File {
			return record.Look{}, fmt.Errorf("look %q would share the file name of %q in this walk", name, had.Look)
		}
	}
	look, err := b.s.judge.look(ctx, b.d, b.walk, l, 0)
	if err != nil {
		look.Verdict, look.Why = record.NoCapture, err.Error()
	}
	b.done.Looks++
	b.s.out.send(Event{Look: &look})
	if err != nil {
		b.end(ctx, err.Error())
	}
	return look, errors.Join(err, b.journal.Note(false))
}
