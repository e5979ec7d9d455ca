package main

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/capture/picture/whole"
	"github.com/fascia-bench/fascia/suites/record"
	"github.com/fascia-bench/fascia/suites/report"
)

func (a *app) filmCommand() *cobra.Command {
	var walk, out string
	cmd := &cobra.Command{
		Use:   "film RUN",
		Short: "A walk of a run as one picture, or as an animated one",
		Long: `A PNG shows the looks of a walk in order, with the inputs that led from one to the next. A
GIF plays them: touches and keys are drawn in where they were made. Which of them is
written follows from the file's name.`,
		Example: `  fascia film runs/2031-05-04-093000 --walk "bed lamp" -o lamp.gif
  fascia film runs/2031-05-04-093000 --walk "bed lamp" -o lamp.png`,
		Args: cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if walk == "" {
				return errors.New("which walk? Name it with --walk")
			}
			run, err := record.Load(args[0])
			if err != nil {
				return err
			}
			switch ext := strings.ToLower(filepath.Ext(out)); ext {
			case ".gif":
				return a.gif(args[0], run, walk, out)
			case ".png":
				return a.trail(args[0], run, walk, out)
			default:
				return fmt.Errorf("write film %q: its name must end in .png or .gif", out)
			}
		},
	}
	cmd.Flags().StringVar(&walk, "walk", "", "the walk to show")
	cmd.Flags().StringVarP(&out, "out", "o", "film.png", "the PNG or GIF to write")
	return cmd
}

func (a *app) trail(dir string, run *record.Run, walk, out string) error {
	img, err := report.Trail(dir, run, walk)
	if err != nil {
		return err
	}
	if err := picture.WritePNG(out, img); err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "%s: %dx%d\n", out, img.Bounds().Dx(), img.Bounds().Dy())
	return nil
}

func (a *app) gif(dir string, run *record.Run, walk, out string) error {
	film, err := report.Film(dir, run, walk)
	if err != nil {
		return err
	}
	if err := whole.Write(out, film); err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "%s: %d kB\n", out, (len(film)+999)/1000)
	return nil
}
