package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/suites/record"
	"github.com/fascia-bench/fascia/suites/report"
)

func (a *app) filmCommand() *cobra.Command {
	var walk, out string
	cmd := &cobra.Command{
		Use:     "film RUN",
		Short:   "A walk of a run as one picture: its looks and the inputs between them",
		Example: "  fascia film runs/2031-05-04-093000 --walk \"bed lamp\" -o lamp.png",
		Args:    cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if walk == "" {
				return errors.New("which walk? Name it with --walk")
			}
			run, err := record.Load(args[0])
			if err != nil {
				return err
			}
			img, err := report.Trail(args[0], run, walk)
			if err != nil {
				return err
			}
			if err := picture.WritePNG(out, img); err != nil {
				return err
			}
			fmt.Fprintf(a.stdout, "%s: %dx%d\n", out, img.Bounds().Dx(), img.Bounds().Dy())
			return nil
		},
	}
	cmd.Flags().StringVar(&walk, "walk", "", "the walk to show")
	cmd.Flags().StringVarP(&out, "out", "o", "film.png", "the PNG to write")
	return cmd
}
