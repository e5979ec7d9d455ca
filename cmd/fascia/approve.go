package main

import (
	"errors"
	"fmt"
	"image"
	"io"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/record"
)

func (a *app) approveCommand() *cobra.Command {
	var bench, reason, by, region string
	var choice suites.Choice
	var photos bool
	cmd := &cobra.Command{
		Use:   "approve [RUN]",
		Short: "Make captures of a run the goldens that later runs are held against",
		Long: `Approves looks of a run, by default the newest beside bench.yaml. A look is approved only as
it was captured, and with a reason; who, when, why and on which build is written to
golden/ledger.jsonl.

A cause, a group or a region approves just the regions it is about: a look in which something
else differs, too, keeps its golden and differs until the rest is approved.`,
		Example: "  fascia approve --look \"home/*\" --reason \"first goldens\"\n" +
			"  fascia approve --cause recoloured --reason \"new accent colour\"\n" +
			"  fascia approve --group \"recoloured from=#efaa39 to=#f78a5a\" --reason \"new accent colour\"\n" +
			"  fascia approve --look home/mild --region 16,144,13,13 --reason \"rounder corners\"",
		Args: cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if strings.TrimSpace(reason) == "" {
				return errors.New("an approval needs a reason: --reason \"…\"")
			}
			by, err := whoever(by)
			if err != nil {
				return err
			}
			if region != "" {
				if choice.Region, err = box(region); err != nil {
					return err
				}
			}
			dir, err := runOrLatest(bench, args)
			if err != nil {
				return err
			}
			approve := func() (*suites.Desk, []suites.Deed, error) {
				return suites.Approve(dir, choice, by, reason, time.Now())
			}
			if photos {
				if choice != (suites.Choice{Look: choice.Look}) {
					return errors.New("--photos goes with --look alone: a photo is approved as a whole")
				}
				approve = func() (*suites.Desk, []suites.Deed, error) {
					return suites.ApprovePhotos(dir, choice.Look, by, reason, time.Now())
				}
			}
			done := a.busy("approve")
			d, deeds, err := approve()
			done()
			if errors.Is(err, golden.ErrUnfinished) {
				tellDeeds(a.stdout, d.Run, deeds)
				return hinted{err, "fascia golden check --repair"}
			}
			if err != nil {
				if d != nil && choice.Group != "" && len(deeds) == 0 {
					groups := suites.Groups(d.Run)
					if len(groups) == 0 {
						return hinted{err, "nothing in this run differs: name another run before the flags"}
					}
					return hinted{err, "the groups of this run are: " + strings.Join(groups, "; ")}
				}
				return err
			}
			tellDeeds(a.stdout, d.Run, deeds)
			if len(deeds) == 0 {
				fmt.Fprintf(a.stdout, "nothing to do: all of it is approved already\n")
				return nil
			}
			fmt.Fprintf(a.stdout, "%s of run %s, by %s\n", countDeeds(deeds), filepath.Base(dir), by)
			return nil
		},
	}
	cmd.Flags().StringVar(&bench, "bench", benchFile, "the bench whose newest run is meant")
	cmd.Flags().StringVar(&choice.Look, "look", "", "pattern of walk/look or look")
	cmd.Flags().StringVar(&choice.Cause, "cause", "", "only what has this cause")
	cmd.Flags().StringVar(&choice.Group, "group", "", "only what came about in this way: a cause with its figures")
	cmd.Flags().StringVar(&region, "region", "", "only the regions of one look that lie in x,y,w,h")
	cmd.Flags().BoolVar(&choice.All, "all", false, "every look that differs or has no golden")
	cmd.Flags().BoolVar(&photos, "photos", false, "the photos of a bench whose goldens are photos (camera: {golden: photo})")
	cmd.Flags().StringVar(&reason, "reason", "", "why it is right (needed)")
	cmd.Flags().StringVar(&by, "by", "", "who approves; git's user.name if not given")
	return cmd
}

// whoever returns the name given, or git's.
func whoever(by string) (string, error) {
	if by = strings.TrimSpace(by); by != "" {
		return by, nil
	}
	name, err := exec.Command("git", "config", "user.name").Output()
	if by = strings.TrimSpace(string(name)); err != nil || by == "" {
		return "", hinted{errors.New("who approves? git knows no user.name here"), "say it with --by NAME"}
	}
	return by, nil
}

// runOrLatest is the run that is named, or the newest beside a bench.
func runOrLatest(bench string, args []string) (string, error) {
	if len(args) == 1 {
		return args[0], nil
	}
	return record.Latest(filepath.Join(filepath.Dir(bench), suites.RunsDir))
}

func box(s string) (*image.Rectangle, error) {
	var x, y, w, h int
	var rest string
	if n, _ := fmt.Sscanf(s+" .", "%d,%d,%d,%d %s", &x, &y, &w, &h, &rest); n != 5 || rest != "." || w <= 0 || h <= 0 {
		return nil, fmt.Errorf("--region %q is not x,y,w,h in pixels of the panel", s)
	}
	r := image.Rect(x, y, x+w, y+h)
	return &r, nil
}

func tellDeeds(out io.Writer, run *record.Run, deeds []suites.Deed) {
	for _, d := range deeds {
		l := run.Looks[d.Look]
		fmt.Fprintf(out, "approved: %s / %s", l.Walk, l.Look)
		if n := len(d.Regions); n > 0 {
			fmt.Fprintf(out, ", %d of %d regions", n, len(l.Finding.Regions))
		}
		fmt.Fprintln(out)
	}
}

// countDeeds counts whole looks and regions in words.
func countDeeds(deeds []suites.Deed) string {
	whole, regions, parts := 0, 0, 0
	for _, d := range deeds {
		if len(d.Regions) == 0 {
			whole++
		} else {
			parts++
			regions += len(d.Regions)
		}
	}
	if regions == 0 {
		return fmt.Sprintf("%d looks", whole)
	}
	return fmt.Sprintf("%d looks, and %d regions of %d more that still differ,", whole, regions, parts)
}
