package main

import (
	"context"
	"errors"
	"fmt"
	"image"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/camera"
	"github.com/fascia-bench/fascia/capture/camera/align"
	"github.com/fascia-bench/fascia/capture/link/line"
	"github.com/fascia-bench/fascia/compare/photo"
	"github.com/fascia-bench/fascia/suites/demo"
)

func (a *app) benchPatternsCommand() *cobra.Command {
	var panel, out, file string
	cmd := &cobra.Command{
		Use:   "patterns",
		Short: "Patterns for the panel to show while its camera measures it",
		Long: `Writes the patterns as PNG files in the order in which they are to be shown. Show each on the panel, take one
photo of each, and give the folder of photos to fascia bench align. Where the firmware paints pictures that the
link sends it, fascia bench align shows the patterns by itself and needs no files.`,
		Example: "  fascia bench patterns --panel 320x240 -o patterns\n  fascia bench patterns -o patterns",
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			w, h, err := panelSize(panel, file)
			if err != nil {
				return err
			}
			names, err := align.WritePatterns(w, h, out)
			if err != nil {
				return err
			}
			fmt.Fprintf(a.stdout, "%d patterns in %s: take one photo of each, in this order or named as the patterns, with everything automatic off\n", len(names), out)
			return nil
		},
	}
	cmd.Flags().StringVar(&panel, "panel", "", "the panel's size, as 320x240; else that of the bench")
	cmd.Flags().StringVar(&file, "bench", benchFile, "the bench whose panel it is")
	cmd.Flags().StringVarP(&out, "out", "o", "patterns", "folder for the patterns")
	return cmd
}

// panelSize is what a flag says, or else a bench's file.
func panelSize(text, file string) (w, h int, err error) {
	if text != "" {
		if w, h, err = line.ParseSize(text); err != nil {
			return 0, 0, fmt.Errorf("--panel: %w", err)
		}
		return w, h, nil
	}
	b, err := bench.Read(file)
	if err != nil {
		return 0, 0, hinted{err, "or say how large the panel is: --panel 320x240"}
	}
	if b.Panel == nil {
		return 0, 0, hinted{fmt.Errorf("%s does not say how large the panel is", file), "say it with --panel 320x240"}
	}
	return b.Panel.Width, b.Panel.Height, nil
}

type alignOptions struct {
	panel, photos, out, bench, source, keep string
	asJSON                                  bool
	whites                                  []time.Time // when a live bench's white was photographed
}

func (a *app) benchAlignCommand() *cobra.Command {
	var o alignOptions
	cmd := &cobra.Command{
		Use:   "align",
		Short: "Learn where the panel stands in the camera's photos, and how it looks there",
		Long: `The device shows patterns and its camera photographs them; or, with --photos, a folder holds one photo of
each pattern (fascia bench patterns). From them come geometry, lens, tones, colours, point spread, moiré and
noise. They go into the camera section of bench.yaml and a file of optics beside it, and advice on the rig is
printed. After that the bench's looks are photos.

How sure a verdict is, is learnt from screens that nothing else is learnt from: two dozen of the bench's goldens, where it
has any, or else made-up ones. So align again once the first screens are approved.`,
		Example: "  fascia bench align\n  fascia bench align --camera /dev/video0 --keep photos\n  fascia bench align --panel 320x240 --photos photos -o bench.yaml",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if o.out == "" {
				o.out = o.bench
			}
			return a.align(cmd.Context(), o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.bench, "bench", benchFile, "the bench whose device shows the patterns")
	f.StringVar(&o.source, "camera", "", "the camera: /dev/video0, http://HOST/VIDEO; else that of the bench. It is written into the bench's file")
	f.StringVar(&o.keep, "keep", "", "a folder to keep the photos in, as --photos takes them")
	f.StringVar(&o.photos, "photos", "", "a folder with one photo of each pattern, instead of device and camera")
	f.StringVar(&o.panel, "panel", "", "the panel's size, as 320x240, with --photos; else that of the bench")
	f.StringVarP(&o.out, "out", "o", "", "the bench's file to write into; it is made if there is none")
	f.BoolVar(&o.asJSON, "json", false, "print the figures as JSON on stdout")
	return cmd
}

func (a *app) align(ctx context.Context, o alignOptions) error {
	patterns, shots, err := a.alignShots(ctx, &o)
	if err != nil {
		return err
	}
	fmt.Fprintf(a.stderr, "learning from %d photos\n", len(shots))
	var optics *photo.Optics
	var rep photo.Report
	err = until(ctx, func() (err error) { optics, rep, err = photo.Learn(patterns, shots); return err })
	if err != nil {
		return err
	}
	for _, at := range o.whites {
		rep.Minutes = append(rep.Minutes, at.Sub(o.whites[0]).Minutes())
	}
	if err := align.Save(o.out, optics, rep, o.source); err != nil {
		return err
	}
	if o.asJSON {
		return a.printJSON(rep)
	}
	for _, text := range rep.Advice() {
		fmt.Fprintln(a.stdout, text)
	}
	fmt.Fprintf(a.stdout, "%s: the camera is aligned\n", o.out)
	return nil
}

// alignShots fetches a photo of each pattern.
func (a *app) alignShots(ctx context.Context, o *alignOptions) (patterns []photo.Pattern, shots []image.Image, err error) {
	if o.photos != "" {
		w, h, err := panelSize(o.panel, o.bench)
		if err != nil {
			return nil, nil, err
		}
		return align.Photos(w, h, o.photos)
	}
	if o.panel != "" {
		return nil, nil, errors.New("--panel goes with --photos: a device says itself how large its panel is")
	}
	b, err := bench.Read(o.bench)
	if err != nil {
		return nil, nil, err
	}
	if b.Camera == nil {
		b.Camera = &bench.Camera{}
	}
	if o.source != "" {
		b.Camera.Source = o.source
	}
	if b.Camera.Source == "" {
		return nil, nil, hinted{fmt.Errorf("%s has no camera", o.bench), "name it, --camera /dev/video0, or write camera: {source: …} into the file"}
	}
	twin, err := demo.Twin()
	if err != nil {
		return nil, nil, err
	}
	release, err := b.Lock(ctx, "bench align", 0)
	if err != nil {
		return nil, nil, err
	}
	defer release()
	if b.IsDump() {
		return nil, nil, hinted{errors.New("a device without an agent cannot be asked to show patterns"), "show those of fascia bench patterns by other means, and align with --photos"}
	}
	d, err := b.Open(ctx, bench.Options{BuiltIn: twin})
	if err != nil {
		return nil, nil, err
	}
	defer d.Close()
	src, err := b.Camera.Open()
	if err != nil {
		return nil, nil, cameraHint(err)
	}
	defer src.Close()
	live := align.Live{Keep: o.keep, Own: a.ownScreens(b, image.Pt(d.Hello().Width, d.Hello().Height)),
		Tell: func(i, n int, name string) {
			fmt.Fprintf(a.stderr, "photo %d of %d: %s\n", i, n, name)
			if strings.Contains(name, "-white") {
				o.whites = append(o.whites, time.Now())
			}
		},
		Warn: func(text string) { fmt.Fprintf(a.stderr, "fascia: warning: %s\n", text) },
	}
	if d.IsTwin() {
		live.Pause = 1 // a twin's glass is as fast as its photo
	}
	patterns, shots, err = live.Patterns(ctx, d, src)
	return patterns, shots, cameraHint(err)
}

// cameraHint adds how to get a build with cameras to an error of a build without.
func cameraHint(err error) error {
	if errors.Is(err, camera.ErrNoCamera) {
		return hinted{err, "make build makes one with cameras; streams of MJPEG over http, folders and files of photos need none"}
	}
	return err
}
