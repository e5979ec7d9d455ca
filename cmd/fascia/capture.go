package main

import (
	"context"
	"errors"
	"fmt"
	"image"
	"os"
	"strings"
	"time"

	"github.com/disintegration/imaging"
	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/link/line"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/suites/demo"
)

func (a *app) captureCommand() *cobra.Command {
	var file, text, out string
	var zoom int
	var settle time.Duration
	var raw rawFile
	cmd := &cobra.Command{
		Use:   "capture",
		Short: "One capture of what the panel shows now",
		Long: `Waits until the panel is still and writes what it shows as a PNG. Without a bench.yaml here, the
device is the built-in one.`,
		Example: "  fascia capture -o home.png\n  fascia capture --bench green-1.yaml --zoom 3 -o big.png\n" +
			"  fascia capture --raw framebuffer.bin --format rgb565be --size 320x240",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if raw.name != "" {
				f, err := raw.read()
				if err != nil {
					return err
				}
				return a.writeCapture(out, zoom, f, raw.name)
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
			opt := bench.Options{BuiltIn: twin, Log: func(l link.LogLine) { fmt.Fprintf(a.stderr, "device: %s\n", l.Text) }}
			dev, err := openLooker(cmd.Context(), b, opt)
			if err != nil {
				return err
			}
			defer dev.Close()
			shot, err := dev.Look(cmd.Context(), link.LookOptions{Still: min(300*time.Millisecond, settle), Latest: settle})
			if err != nil {
				return err
			}
			if shot.Moving {
				fmt.Fprintf(a.stderr, "the screen was still moving after %v\n", settle)
			}
			return a.writeCapture(out, zoom, shot.Frame, fmt.Sprintf("%d bytes over the link", shot.Bytes))
		},
	}
	cmd.Flags().StringVar(&raw.name, "raw", "", "make a PNG of the bytes of a framebuffer in a file instead")
	cmd.Flags().StringVar(&raw.format, "format", "rgb565le", "of --raw: "+strings.Join(capture.FormatNames(), ", "))
	cmd.Flags().StringVar(&raw.size, "size", "", "of --raw, as 320x240")
	cmd.Flags().StringVar(&file, "bench", benchFile, "the bench to capture from")
	cmd.Flags().StringVar(&text, "link", "", "a link instead of a bench, as bench.yaml has it: serial:/dev/ttyUSB0")
	cmd.Flags().StringVarP(&out, "out", "o", "capture.png", "the PNG to write")
	cmd.Flags().IntVar(&zoom, "zoom", 1, "enlarge by a whole number")
	cmd.Flags().DurationVar(&settle, "settle", 5*time.Second, "how long to wait for a still screen")
	return cmd
}

// A looker is what a capture needs of a bench.
type looker interface {
	Look(context.Context, link.LookOptions) (link.Look, error)
	Close() error
}

func openLooker(ctx context.Context, b *bench.Bench, opt bench.Options) (looker, error) {
	if b.IsDump() {
		return b.OpenDump(ctx, opt)
	}
	return b.Open(ctx, opt)
}

// writeCapture writes a frame as a PNG and says so.
func (a *app) writeCapture(out string, zoom int, f *capture.Frame, whence string) error {
	if zoom < 1 || zoom > 16 {
		return fmt.Errorf("zoom %d is not between 1 and 16", zoom)
	}
	var img image.Image = f
	if zoom > 1 {
		img = imaging.Resize(f.RGBA(), f.Width*zoom, f.Height*zoom, imaging.NearestNeighbor)
	}
	if err := picture.WritePNG(out, img); err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "%s: %v, %s\n", out, f, whence)
	return nil
}

// A rawFile is the bytes of a framebuffer as they lie in memory.
type rawFile struct{ name, format, size string }

func (r rawFile) read() (*capture.Frame, error) {
	format, err := capture.ParseFormat(r.format)
	if err != nil {
		return nil, err
	}
	if r.size == "" {
		return nil, errors.New("how large is the panel? Say it with --size 320x240")
	}
	w, h, err := line.ParseSize(r.size)
	if err != nil {
		return nil, err
	}
	f, err := os.Open(r.name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	frame, err := capture.ReadRaw(f, w, h, format)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", r.name, err)
	}
	return frame, nil
}
