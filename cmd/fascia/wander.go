package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/capture/picture/whole"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/wander"
	"github.com/fascia-bench/fascia/suites/wander/atlas"
)

type wanderOptions struct {
	bench, out, names string
	seed              uint64
	steps, findings   int
	alone, asJSON     bool
}

func (a *app) wanderCommand() *cobra.Command {
	var o wanderOptions
	cmd := &cobra.Command{
		Use:   "wander",
		Short: "Faults nobody scripted: presses everything, and judges without goldens",
		Long: `Tries the device's screens with sensible input drawn from a seed: touches, keys, the knob, texts, values and
clock steps, led towards what has not been seen yet. The walks beside the bench are followed first, and what they
feed and type is tried elsewhere too.

No golden is needed. Reported are: a full redraw that shows another picture than the updates left on the panel,
restarts, hangs, screens that never settle, gauges that go one way at every visit of a screen, and a screen that is
drawn otherwise by another road to it. Each path is shrunk to a short walk that shows the fault from a reset.

The folder gets map.json and a picture of each screen, and the walks; what stood there from before is replaced.
A device that is no twin is reset again and again: leave nothing attached to it that must not be switched.

Exit status: 1 if anything was found.`,
		Example: "  fascia wander\n  fascia wander --seed 7 --steps 10000\n  fascia wander --alone --bench board.yaml",
		Args:    cobra.NoArgs,
		RunE:    func(cmd *cobra.Command, _ []string) error { return a.wander(cmd.Context(), o) },
	}
	f := cmd.Flags()
	f.StringVar(&o.bench, "bench", benchFile, "the bench whose device is wandered on")
	f.StringVarP(&o.out, "out", "o", "", "the folder for the map, pictures and walks; else wander beside the bench")
	f.Uint64Var(&o.seed, "seed", 1, "what input is drawn from; the same seed does the same on a twin")
	f.IntVar(&o.steps, "steps", 3000, "how many inputs are given, without those that shrink a path")
	f.IntVar(&o.findings, "findings", 0, "end after so many findings; 0: go on")
	f.StringVar(&o.names, "names", "screen *", "the log line by which the firmware names a screen, * standing for the name")
	f.BoolVar(&o.alone, "alone", false, "do not follow the bench's walks first")
	f.BoolVar(&o.asJSON, "json", false, "print the map on stdout")
	return cmd
}

func (a *app) wander(ctx context.Context, o wanderOptions) error {
	if o.steps < 1 {
		return errors.New("--steps: give at least one input")
	}
	b, err := bench.Read(o.bench)
	if err != nil {
		return err
	}
	var walks []*suites.Walk
	if found, _ := filepath.Glob(filepath.Join(b.Dir, suites.WalksDir, "*.yaml")); len(found) > 0 {
		plan, err := suites.Prepare(o.bench, nil)
		if err != nil {
			return err
		}
		walks = plan.Walks
	}
	if o.out == "" {
		o.out = filepath.Join(b.Dir, "wander")
	}
	twin, err := demo.Twin()
	if err != nil {
		return err
	}
	release, err := b.Lock(ctx, "fascia wander", 0)
	if err != nil {
		return err
	}
	defer release()
	var p *suites.Player
	d, err := b.Open(ctx, bench.Options{BuiltIn: twin, Log: func(l link.LogLine) {
		if p != nil {
			p.Heard(l)
		}
	}})
	if err != nil {
		return err
	}
	defer d.Close()
	p = suites.Play(d, b.Restarts)
	opt := wander.Options{Seed: o.seed, Steps: o.steps, Findings: o.findings, Names: o.names,
		Tell: func(s string) { fmt.Fprintln(a.stderr, s) }}
	opt.Feeds, opt.Texts = suites.Words(walks)
	if !o.alone {
		opt.Walks = walks
	}
	r, err := wander.Wander(ctx, d, p, opt)
	if r == nil {
		return err
	}
	r.Map.Target = b.Target
	if saveErr := saveWander(o.out, r); saveErr != nil || err != nil {
		return errors.Join(err, saveErr)
	}
	if len(r.Findings) > 0 {
		a.status = exitDiffers
	}
	if o.asJSON {
		enc := json.NewEncoder(a.stdout)
		enc.SetIndent("", " ")
		return enc.Encode(r.Map)
	}
	fmt.Fprintf(a.stdout, "%d screens in %d inputs, seed %d: %s\n", len(r.Map.Screens), r.Steps, o.seed, filepath.Join(o.out, atlas.File))
	for _, f := range r.Findings {
		fmt.Fprintf(a.stdout, "%s on screen %s: %s\n", f.Kind, f.Screen, f.Says)
		if f.Walk != "" {
			fmt.Fprintf(a.stdout, "    %d inputs: %s\n", f.Steps, filepath.Join(o.out, f.Finding.Walk))
		} else {
			fmt.Fprintf(a.stdout, "    after %d inputs; it did not show again from a reset\n", f.Path)
		}
	}
	return nil
}

// saveWander writes the map, the pictures and the walks, in the place of those of an earlier time.
func saveWander(dir string, r *wander.Result) error {
	if old, oldDir, err := atlas.Load(dir); err == nil {
		for _, s := range old.Screens {
			for _, file := range append(slices.Clone(s.More), s.Picture) {
				os.Remove(filepath.Join(oldDir, filepath.Base(file)))
			}
		}
		for _, f := range old.Findings {
			if f.Walk != "" {
				os.Remove(filepath.Join(oldDir, filepath.Base(f.Walk)))
			}
		}
	} else if _, statErr := os.Stat(filepath.Join(dir, atlas.File)); statErr == nil {
		return hinted{err, "remove it, or choose another folder with -o"}
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return fmt.Errorf("write the map: %w", err)
	}
	for file, img := range r.Pictures {
		if err := picture.WritePNG(filepath.Join(dir, file), img); err != nil {
			return err
		}
	}
	for _, f := range r.Findings {
		if f.Walk != "" {
			if err := whole.Write(filepath.Join(dir, f.Finding.Walk), []byte(f.Walk)); err != nil {
				return err
			}
		}
	}
	return r.Map.Save(dir)
}
