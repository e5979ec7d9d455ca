package main

import (
	"errors"
	"fmt"
	"image"
	"os"
	"time"

	"github.com/disintegration/imaging"
	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/suites/demo"
)

func (a *app) captureCommand() *cobra.Command {
	var file, text, out string
	var zoom int
	var settle time.Duration
	cmd := &cobra.Command{
		Use:   "capture",
		Short: "One capture of what the panel shows now",
		Long: `Waits until the panel is still and writes what it shows as a PNG. Without a bench.yaml here, the
device is the built-in one.`,
		Example: "  fascia capture -o home.png\n  fascia capture --bench boards/green-1.yaml --zoom 3 -o big.png",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if zoom < 1 || zoom > 16 {
				return fmt.Errorf("zoom %d is not between 1 and 16", zoom)
			}
			twin, err := demo.Twin()
			if err != nil {
				return err
			}
			b, err := bench.Read(file)
			if _, statErr := os.Stat(file); errors.Is(statErr, os.ErrNotExist) && !cmd.Flags().Changed("bench") && text == "" {
				fmt.Fprintf(a.stderr, "there is no %s here: this is the built-in device\n", file)
				b, err = bench.OnLink("twin:"), nil
			}
			if text != "" {
				b, err = bench.OnLink(text), nil
			}
			if err != nil {
				return err
			}
			conn, err := b.Open(cmd.Context(), bench.Options{BuiltIn: twin, Log: func(l link.LogLine) {
				fmt.Fprintf(a.stderr, "device: %s\n", l.Text)
			}})
			if err != nil {
				return err
			}
			defer conn.Close()
			shot, err := conn.Look(cmd.Context(), link.LookOptions{Still: min(300*time.Millisecond, settle), Latest: settle})
			if err != nil {
				return err
			}
			if shot.Moving {
				fmt.Fprintf(a.stderr, "the screen was still moving after %v\n", settle)
			}
			var img image.Image = shot.Frame
			if zoom > 1 {
				b := shot.Frame.Bounds()
				img = imaging.Resize(shot.Frame.RGBA(), b.Dx()*zoom, b.Dy()*zoom, imaging.NearestNeighbor)
			}
			if err := picture.WritePNG(out, img); err != nil {
				return err
			}
			fmt.Fprintf(a.stdout, "%s: %v, %d bytes over the link\n", out, shot.Frame, shot.Bytes)
			return nil
		},
	}
	cmd.Flags().StringVar(&file, "bench", benchFile, "the bench to capture from")
	cmd.Flags().StringVar(&text, "link", "", "a link instead of a bench, as bench.yaml has it: serial:/dev/ttyUSB0")
	cmd.Flags().StringVarP(&out, "out", "o", "capture.png", "the PNG to write")
	cmd.Flags().IntVar(&zoom, "zoom", 1, "enlarge by a whole number")
	cmd.Flags().DurationVar(&settle, "settle", 5*time.Second, "how long to wait for a still screen")
	return cmd
}
