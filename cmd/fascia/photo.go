package main

import (
	"errors"
	"fmt"
	"image"
	"io/fs"
	"path/filepath"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/camera"
	"github.com/fascia-bench/fascia/capture/camera/align"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare/photo"
	"github.com/fascia-bench/fascia/suites/report"
)

func (a *app) rectifyCommand() *cobra.Command {
	var file, out string
	cmd := &cobra.Command{
		Use:     "rectify PHOTO",
		Short:   "Bring a photo back to the panel's pixels and colours",
		Long:    `Makes of a photo, PNG or JPEG, the picture that the panel shows in it, by what fascia bench align has learnt.`,
		Example: "  fascia rectify --bench bench.yaml photo.jpg -o panel.png",
		Args:    cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			optics, _, err := openOptics(file)
			if err != nil {
				return err
			}
			m, err := camera.ReadPhoto(args[0])
			if err != nil {
				return err
			}
			panel, err := optics.Rectify(m)
			if err != nil {
				return fmt.Errorf("rectify %s: %w", args[0], err)
			}
			if err := picture.WritePNG(out, panel); err != nil {
				return err
			}
			fmt.Fprintf(a.stdout, "%s: %dx%d\n", out, panel.Rect.Dx(), panel.Rect.Dy())
			return nil
		},
	}
	cmd.Flags().StringVar(&file, "bench", benchFile, "the bench whose camera took the photo")
	cmd.Flags().StringVarP(&out, "out", "o", "panel.png", "the PNG to write")
	return cmd
}

// openOptics reads what a bench's camera has learnt. The bench need not have a device.
func openOptics(file string) (*photo.Optics, *bench.Camera, error) {
	c, err := bench.CameraOf(file)
	if errors.Is(err, fs.ErrNotExist) {
		err = fmt.Errorf("there is no %s: fascia bench align writes what a camera has learnt into it", filepath.Clean(file))
	}
	if err != nil {
		return nil, nil, err
	}
	o, err := align.Load(c)
	return o, c, err
}

// comparePhoto holds a photo against a golden.
func (a *app) comparePhoto(file, goldenFile, photoFile string, ignore []image.Rectangle, out string, asJSON bool) error {
	optics, c, err := openOptics(file)
	if err != nil {
		return err
	}
	golden, err := picture.Read(goldenFile)
	if err != nil {
		return err
	}
	m, err := camera.ReadPhoto(photoFile)
	if err != nil {
		return err
	}
	res, err := optics.Compare(golden, m, photo.Options{FalseAlarm: c.FalseAlarm, Ignore: ignore, GoldenIsPhoto: c.Golden == "photo"})
	if err != nil {
		return err
	}
	for _, w := range res.Warnings {
		fmt.Fprintf(a.stderr, "fascia: warning: %s\n", w)
	}
	if out != "" {
		if err := picture.WritePNG(out, report.Diff(golden, res.Picture, res.Result, ignore...)); err != nil {
			return err
		}
	}
	if !res.Same {
		a.status = exitDiffers
	}
	if asJSON {
		return a.printJSON(res)
	}
	if res.Same {
		fmt.Fprintln(a.stdout, "same")
		return nil
	}
	fmt.Fprintln(a.stdout, headline(res.Result))
	tell(a.stdout, res.Result)
	return nil
}
