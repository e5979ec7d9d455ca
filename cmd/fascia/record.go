package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/author"
	"github.com/fascia-bench/fascia/suites/demo"
)

// recordClock is what the device's clock is held at unless another time is asked for.
const recordClock = "2031-05-04T09:30:00"

type recordOptions struct {
	bench, out, key, clock, hands, pictures string
	feeds                                   []string
}

// walk is the name of the walk that is written: that of its file.
func (o recordOptions) walk() string {
	return strings.ReplaceAll(strings.TrimSuffix(filepath.Base(o.out), filepath.Ext(o.out)), "-", " ")
}

func (a *app) recordCommand() *cobra.Command {
	var o recordOptions
	cmd := &cobra.Command{
		Use:   "record -o WALK.yaml",
		Short: "A walk written while a person operates the device",
		Long: `Starts the device anew, holds its clock, and writes down what you do on it: taps, holds and drags,
keys and chords, the knob. Waits stand only where the device went on by itself.

A look is taken where you press Enter here (type a name before it, or the look gets a number), or where you
press the device's key that --key names, by its USB HID usage name; that key is not written. The recording
ends with Ctrl-D.

The firmware must report what its user does (fascia_observed in the agent). A twin has no glass to touch: it
is operated by a file of lines such as

  2500ms down 280 216
  80ms up 280 216
  1s press enter
  90ms release enter
  800ms look settings`,
		Example: "  fascia record -o walks/pairing.yaml\n  fascia record -o walks/pairing.yaml --key f12 --feed pairing-code=2486\n" +
			"  fascia record -o walks/home.yaml --hands hands.txt --pictures seen",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if o.out == "" {
				return errors.New("record needs -o, the walk to write: -o walks/pairing.yaml")
			}
			return a.record(cmd.Context(), o)
		},
	}
	f := cmd.Flags()
	f.StringVarP(&o.out, "out", "o", "", "the walk to write; it must not be there yet")
	f.StringVar(&o.bench, "bench", benchFile, "the bench whose device is operated")
	f.StringVar(&o.key, "key", "", "the device's key that takes a look")
	f.StringVar(&o.clock, "clock", recordClock, "what the device's clock is held at; run lets it run")
	f.StringArrayVar(&o.feeds, "feed", nil, "a value fed first, as name=value; may be given again")
	f.StringVar(&o.hands, "hands", "", "what to do on a twin")
	f.StringVar(&o.pictures, "pictures", "", "a folder for what the panel showed at each look")
	return cmd
}

func (a *app) record(ctx context.Context, o recordOptions) (err error) {
	if _, err := os.Stat(o.out); err == nil {
		return hinted{fmt.Errorf("%s is there already", o.out), "choose another name, or remove it"}
	}
	rec := &author.Recording{}
	if o.key != "" {
		var ok bool
		if rec.KeyPage, rec.KeyID, ok = suites.KeyUsage(o.key); !ok {
			return fmt.Errorf("unknown key %q: names are those that walks use, such as f12", o.key)
		}
	}
	hands, err := readHands(o.hands)
	if err != nil {
		return err
	}
	b, err := bench.Read(o.bench)
	if err != nil {
		return err
	}
	twin, err := demo.Twin()
	if err != nil {
		return err
	}
	release, err := b.Lock(ctx, "fascia record", 0)
	if err != nil {
		return err
	}
	defer release()
	d, err := b.Open(ctx, bench.Options{BuiltIn: twin})
	if err != nil {
		return err
	}
	defer d.Close()
	if d.IsTwin() && o.hands == "" {
		return hinted{errors.New("a twin has no glass to touch"), "write what to do on it into a file, and give it with --hands: see fascia record --help"}
	}
	if !d.IsTwin() && o.hands != "" {
		return errors.New("--hands is for twins: this device is operated by your own")
	}
	set, err := a.setUp(ctx, d, o)
	if err != nil {
		return err
	}
	look := func(name string) error {
		rec.Mark(d.Now(), name)
		fmt.Fprintf(a.stderr, "look %d %s\n", rec.Looks(), name)
		return keepPicture(ctx, d, o.pictures, rec.Looks(), name)
	}
	step := a.byPerson(ctx, look)
	if d.IsTwin() {
		step = byHands(d, hands, look)
	}
	if err := rec.Watch(context.WithoutCancel(ctx), d, d.IsTwin(), step); err != nil {
		return err
	}
	text, err := rec.Walk(set)
	if err != nil {
		return err
	}
	return a.writeWalk(o, text)
}

// setUp starts the device as a walk does.
func (a *app) setUp(ctx context.Context, d *bench.Device, o recordOptions) (set author.Setting, err error) {
	if d.CanReset() {
		if err := d.Reset(ctx, 20*time.Second); err != nil {
			return set, err
		}
	} else {
		fmt.Fprintln(a.stderr, "this device cannot be started anew from here: the walk begins with what its screen shows now")
	}
	h := d.Hello()
	set = author.Setting{Walk: o.walk(), Device: fmt.Sprintf("%s, %s, build %s", h.Firmware, h.Library, h.Build)}
	if o.clock != "run" && h.Has(link.CanClock) {
		if set.Clock, err = time.Parse("2006-01-02T15:04:05", o.clock); err != nil {
			return set, fmt.Errorf("--clock %q: expected a time such as %s, or run", o.clock, recordClock)
		}
		if err := d.SetClock(ctx, set.Clock, true); err != nil {
			return set, err
		}
	}
	for _, f := range o.feeds {
		name, value, ok := strings.Cut(f, "=")
		if !ok {
			return set, fmt.Errorf("--feed %q: expected name=value", f)
		}
		if err := d.Feed(ctx, name, value); err != nil {
			return set, fmt.Errorf("feed %s: %w", f, err)
		}
		set.Feeds = append(set.Feeds, [2]string{name, value})
	}
	return set, nil
}

func readHands(file string) ([]suites.Motion, error) {
	if file == "" {
		return nil, nil
	}
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return suites.ReadMotions(file, f)
}

// byHands does on a twin what a file says, each at its time.
func byHands(d *bench.Device, hands []suites.Motion, look func(string) error) func() (bool, error) {
	due := d.Now()
	return func() (bool, error) {
		for len(hands) > 0 {
			h := hands[0]
			if d.Now() < due+h.After {
				return false, nil
			}
			due += h.After
			hands = hands[1:]
			if h.IsLook {
				if err := look(h.Look); err != nil {
					return false, err
				}
				continue
			}
			return false, d.User(h.Event) // one at a time, since the device keeps but a few
		}
		return true, nil
	}
}

// byPerson takes looks where Enter is pressed, until the input ends or the command is interrupted.
func (a *app) byPerson(ctx context.Context, look func(string) error) func() (bool, error) {
	fmt.Fprintln(a.stderr, "operate the device; Enter takes a look (a name before it names the look), Ctrl-D ends")
	lines := make(chan string)
	go func() {
		defer close(lines)
		for scan := bufio.NewScanner(os.Stdin); scan.Scan(); {
			lines <- strings.TrimSpace(scan.Text())
		}
	}()
	return func() (bool, error) {
		select {
		case name, ok := <-lines:
			if !ok {
				return true, nil
			}
			return false, look(name)
		case <-ctx.Done():
			return true, nil
		default:
			return false, nil
		}
	}
}

// keepPicture keeps what the panel shows at a look, if a folder was named.
func keepPicture(ctx context.Context, d *bench.Device, dir string, number int, name string) error {
	if dir == "" {
		return nil
	}
	shot, err := d.Look(ctx, link.LookOptions{})
	if err != nil {
		return err
	}
	if name == "" {
		name = fmt.Sprintf("look %d", number)
	}
	file, err := golden.FileName(name)
	if err == nil {
		err = os.MkdirAll(dir, 0o777)
	}
	if err != nil {
		return fmt.Errorf("keep a picture: %w", err)
	}
	if err := d.Wait(ctx, time.Millisecond); err != nil { // a look holds drawing until the next action
		return err
	}
	return picture.WritePNG(filepath.Join(dir, file+".png"), shot.Frame.RGBA())
}

// writeWalk writes the walk, and reads it as a run would.
func (a *app) writeWalk(o recordOptions, text string) error {
	if err := os.MkdirAll(filepath.Dir(o.out), 0o777); err != nil {
		return fmt.Errorf("write the walk: %w", err)
	}
	w, err := os.OpenFile(o.out, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return fmt.Errorf("write the walk: %w", err)
	}
	_, err = w.WriteString(text)
	if err := errors.Join(err, w.Close()); err != nil {
		return fmt.Errorf("write the walk: %w", err)
	}
	if _, err := suites.Prepare(o.bench, []string{o.out}); err != nil {
		return fmt.Errorf("%s is written, but does not go with the others yet: %w", o.out, err)
	}
	fmt.Fprintf(a.stdout, "%s\nnext: fascia run %s\n", o.out, o.out)
	return nil
}
