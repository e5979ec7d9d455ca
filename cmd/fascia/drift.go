package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/drift"
)

func (a *app) driftCommand() *cobra.Command {
	var file, out string
	var opt drift.Options
	var asJSON, all bool
	cmd := &cobra.Command{
		Use:   "drift",
		Short: "Figures of looks over runs: what became slower, larger or dearer, and since when",
		Long: `Reads the records in the folder runs beside the bench's file and follows boot time, each look's
settle time, its bytes over the link and the device's gauges, for each bench and target. A figure is
asked at every change of build, and in the middle of a long stretch of one build.

A change is flagged by the two-sided rank-sum test, with at most 5 % false alarms among what is flagged
(Benjamini, Hochberg 1995), if the median moved by --least at least. That takes 4 runs on either
side of a change when it is the only place and the only figure that moves, and more when there are many.
Settle time and bytes count only where a look was the same as its golden.

Exit status: 0 nothing drifted; 1 something did; 2 there are too few runs to say anything, or bad input.`,
		Example: "  fascia drift\n  fascia drift --look 'home*' --last 100\n  fascia drift -o plots        # an SVG for boot time and for each figure that drifted",
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			if opt.Last < 0 || opt.Least < 0 || opt.Least >= 1 {
				return fmt.Errorf("--last %d and --least %v: expected a number of runs, and a share of the median from 0 to below 1", opt.Last, opt.Least)
			}
			b, err := bench.Read(file)
			if err != nil {
				return err
			}
			runs := filepath.Join(b.Dir, suites.RunsDir)
			groups, skipped, err := drift.Find(runs, opt)
			if errors.Is(err, os.ErrNotExist) {
				return hinted{fmt.Errorf("there is no folder %s: nothing was run here", runs), "fascia run leaves its record there"}
			}
			if err != nil {
				return err
			}
			for _, s := range skipped {
				fmt.Fprintf(a.stderr, "not counted: %v\n", s)
			}
			if err := a.tellDrift(groups, runs, asJSON); err != nil {
				return err
			}
			if out != "" {
				return a.plotDrift(groups, out, all)
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&file, "bench", benchFile, "the bench whose runs are followed")
	cmd.Flags().StringVar(&opt.Walk, "walk", "", "only this walk")
	cmd.Flags().StringVar(&opt.Look, "look", "", "only looks that match this pattern")
	cmd.Flags().IntVar(&opt.Last, "last", drift.DefaultLast, "how many of a bench's newest runs count; 0 for all")
	cmd.Flags().Float64Var(&opt.Least, "least", drift.DefaultLeast, "the smallest change of a median that counts, as a share of it")
	cmd.Flags().StringVarP(&out, "out", "o", "", "a folder for plots")
	cmd.Flags().BoolVar(&all, "all", false, "plot every figure, not only those that drifted")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the figures as JSON on stdout")
	opt.Rate = drift.DefaultRate
	return cmd
}

// tellDrift prints what was found and sets the exit status.
func (a *app) tellDrift(groups []*drift.Group, runs string, asJSON bool) error {
	followed, testable, drifted := false, false, false
	for _, g := range groups {
		followed = followed || g.Figures > 0
		testable = testable || g.Testable
		drifted = drifted || len(g.Drifted()) > 0
	}
	switch {
	case !followed:
		return fmt.Errorf("there is no figure to follow in %s: no run there that ended, or none with such a walk and look", runs)
	case drifted:
		a.status = exitDiffers
	case !testable:
		a.status = exitNoVerdict
	}
	if asJSON {
		if err := a.printJSON(groups); err != nil {
			return err
		}
	}
	if !asJSON {
		for _, g := range groups {
			a.tellGroup(g)
		}
	}
	if a.status == exitNoVerdict {
		fmt.Fprintln(a.stderr, "fascia: error: too few runs to tell a change from chance")
		fmt.Fprintln(a.stderr, "fascia: hint: it takes 4 before and 4 after a change of build, or 8 of one build; more places to look at take more")
	}
	return nil
}

func (a *app) tellGroup(g *drift.Group) {
	fmt.Fprintln(a.stdout, g.Summary())
	for _, n := range g.Notes {
		fmt.Fprintf(a.stdout, "  note: %s\n", n)
	}
	drifted := g.Drifted()
	for _, s := range drifted {
		for _, c := range s.Changes {
			fmt.Fprintf(a.stdout, "  %s\n      %s\n", s.Says(c), c.Evidence())
		}
	}
	if len(drifted) == 0 {
		fmt.Fprintln(a.stdout, "  nothing drifted")
	}
}

// plotDrift writes the plots.
func (a *app) plotDrift(groups []*drift.Group, out string, all bool) error {
	n := 0
	for _, g := range groups {
		folder, err := golden.FileName(g.Bench + " " + g.Target)
		if err != nil {
			return fmt.Errorf("write plots: %w", err)
		}
		for _, s := range g.Series {
			if !all && len(s.Changes) == 0 && s.Kind != drift.Boot {
				continue
			}
			name, err := s.File()
			if err != nil {
				return err
			}
			file := filepath.Join(out, folder, filepath.FromSlash(name))
			if err := errors.Join(os.MkdirAll(filepath.Dir(file), 0o777), os.WriteFile(file, []byte(s.SVG()), 0o666)); err != nil {
				return fmt.Errorf("write plots: %w", err)
			}
			n++
		}
	}
	fmt.Fprintf(a.stderr, "%d plots in %s\n", n, out)
	return nil
}
