package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"os"
	"path/filepath"

	"github.com/disintegration/imaging"
	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare/lint"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/critic"
)

// acceptFile is where accepted findings stand, beside the bench.
const acceptFile = "lint.yaml"

type lintOptions struct {
	bench, accept, out, format string
	settings                   lint.Settings
	asJSON                     bool
}

func (a *app) lintCommand() *cobra.Command {
	o := lintOptions{settings: lint.Defaults}
	cmd := &cobra.Command{
		Use:   "lint [PICTURE|FOLDER]...",
		Short: "Reads screens as a critic: text cut, touching or too pale, boxes for letters, small things to touch",
		Long: `Reads pictures of screens without holding them against anything: files, folders, runs, the folder that wander
left, or, where none is named, the goldens of the bench's target.

Reported are text cut by the panel's edge or by its box, text over the edge of its box, text that touches, text
shortened with dots for want of room, empty boxes in the place of letters, contrast below WCAG 2, colours that the
panel does not have, one language without room where others have some, and (in what wander left, which knows them)
small things to touch. Text on gradients and photographs is not looked at.

A finding is accepted with a reason, in ` + acceptFile + ` beside the bench:

  accept:
    - kind: contrast
      picture: "day-chart/*"        # * stands for any text; leave it out for all
      box: [0, 60, 40, 170]         # that the finding lies in; leave it out for anywhere
      why: the axis is told again by the reading line

Exit status: 1 if there is a finding that nobody has accepted.`,
		Example: "  fascia lint\n  fascia lint wander -o found\n  fascia lint runs/2031-05-04-093000 --contrast 7",
		RunE:    func(_ *cobra.Command, args []string) error { return a.lint(args, o) },
	}
	f := cmd.Flags()
	f.StringVar(&o.bench, "bench", benchFile, "the bench whose goldens and panel are meant")
	f.StringVar(&o.accept, "accept", "", "the file of accepted findings; else "+acceptFile+" beside the bench, if it is there")
	f.StringVarP(&o.out, "out", "o", "", "a folder for the pictures with findings, each in its box")
	f.StringVar(&o.format, "format", "", "the panel's pixel format, such as rgb565; else the bench's")
	f.Float64Var(&o.settings.Text, "contrast", lint.Defaults.Text, "the contrast ratio wanted of text")
	f.Float64Var(&o.settings.LargeText, "contrast-large", lint.Defaults.LargeText, "and of large text, with capitals of 17 pixels or more")
	f.IntVar(&o.settings.Touch, "touch", lint.Defaults.Touch, "pixels a side of what is there to be touched, at least")
	f.BoolVar(&o.asJSON, "json", false, "print the findings as JSON on stdout")
	return cmd
}

func (a *app) lint(args []string, o lintOptions) error {
	b, err := bench.Read(o.bench)
	if err != nil && (len(args) == 0 || o.bench != benchFile) {
		return err
	}
	dir, format := ".", capture.Format(0)
	if err == nil {
		dir = b.Dir
		if b.Panel != nil {
			format = b.Panel.Format
		}
		if len(args) == 0 {
			target, err := golden.FileName(b.Target)
			if err != nil {
				return err
			}
			args = []string{filepath.Join(b.Dir, suites.GoldenDir, target)}
		}
	} else if _, statErr := os.Stat(o.bench); statErr == nil {
		return err // it is there, and wrong
	}
	if o.format != "" {
		if format, err = capture.ParseFormat(o.format); err != nil {
			return fmt.Errorf("--format: %w", err)
		}
	}
	var accepts []*critic.Accept
	if o.accept == "" {
		if file := filepath.Join(dir, acceptFile); exists(file) {
			o.accept = file
		}
	}
	if o.accept != "" {
		if accepts, err = critic.Read(o.accept); err != nil {
			return err
		}
	}
	var pictures []lint.Picture
	for _, arg := range args {
		ps, err := critic.Gather(arg, format)
		if err != nil {
			return err
		}
		pictures = append(pictures, ps...)
	}
	open, accepted := critic.Sort(lint.Check(pictures, o.settings), accepts)
	if len(open) > 0 {
		a.status = exitDiffers
	}
	for _, acc := range accepts {
		if acc.Used == 0 {
			fmt.Fprintf(a.stderr, "%s: accepts nothing that was found: %s\n", acc.Place(), acc.Why)
		}
	}
	if o.out != "" {
		if err := boxed(o.out, pictures, open); err != nil {
			return err
		}
	}
	if o.asJSON {
		enc := json.NewEncoder(a.stdout)
		enc.SetIndent("", " ")
		return enc.Encode(struct {
			Pictures int            `json:"pictures"`
			Findings []lint.Finding `json:"findings"`
			Accepted []lint.Finding `json:"accepted"`
		}{len(pictures), open, accepted})
	}
	for _, f := range open {
		fmt.Fprintf(a.stdout, "%s: %s at %d,%d (%dx%d): %s\n", f.Picture, f.Kind, f.X, f.Y, f.W, f.H, f.Says)
	}
	fmt.Fprintf(a.stdout, "%d pictures: %d findings, %d accepted\n", len(pictures), len(open), len(accepted))
	return nil
}

func exists(file string) bool {
	_, err := os.Stat(file)
	return !errors.Is(err, os.ErrNotExist)
}

// boxed writes the pictures that have findings, at twice their size, with a box round each.
func boxed(dir string, pictures []lint.Picture, found []lint.Finding) error {
	amber := image.NewUniform(color.NRGBA{232, 146, 12, 255})
	for _, p := range pictures {
		var large *image.NRGBA
		for _, f := range found {
			if f.Picture != p.Name {
				continue
			}
			if large == nil {
				size := p.Image.Bounds().Size()
				large = imaging.Resize(p.Image, 2*size.X, 2*size.Y, imaging.NearestNeighbor)
			}
			r := image.Rect(2*f.X-6, 2*f.Y-6, 2*(f.X+f.W)+6, 2*(f.Y+f.H)+6)
			for _, side := range []image.Rectangle{{r.Min, image.Pt(r.Max.X, r.Min.Y+3)}, {image.Pt(r.Min.X, r.Max.Y-3), r.Max},
				{r.Min, image.Pt(r.Min.X+3, r.Max.Y)}, {image.Pt(r.Max.X-3, r.Min.Y), r.Max}} {
				draw.Draw(large, side.Intersect(large.Rect), amber, image.Point{}, draw.Src)
			}
		}
		if large == nil {
			continue
		}
		file, err := golden.FileName(p.Name)
		if err == nil {
			err = os.MkdirAll(dir, 0o777)
		}
		if err == nil {
			err = picture.WritePNG(filepath.Join(dir, file+".png"), large)
		}
		if err != nil {
			return fmt.Errorf("write the pictures with findings: %w", err)
		}
	}
	return nil
}
