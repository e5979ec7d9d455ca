package main

import (
	"errors"
	"fmt"
	"image"
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/suites/report"
)

func (a *app) compareCommand() *cobra.Command {
	var previous, out, relief, file string
	var ignore []string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "compare GOLDEN CAPTURE",
		Short: "Hold one picture against another and say what changed",
		Long: `Compares two pictures pixel by pixel (PNG, PPM, PGM or PBM), tells the regions that differ
and the probable causes. Another size is a difference.

With --bench the capture is a photo (PNG or JPEG) of that bench's camera, and the golden what the panel should show.
The photo differs where noise alone would look so no more than once in 10,000 looks.`,
		Example: "  fascia compare golden.png capture.png\n  fascia compare --ignore 252,0,68,20 --json golden.png capture.png\n  fascia compare -o diff.png golden.png capture.png\n  fascia compare --bench bench.yaml golden.png photo.jpg",
		Args:    cobra.ExactArgs(2),
		RunE: func(_ *cobra.Command, args []string) error {
			var opt compare.Options
			for _, text := range ignore {
				r, err := parseRect(text)
				if err != nil {
					return err
				}
				opt.Ignore = append(opt.Ignore, r)
			}
			if file != "" {
				if previous != "" || relief != "" {
					return errors.New("--previous and --map go with captures, not with photos")
				}
				return a.comparePhoto(file, args[0], args[1], opt.Ignore, out, asJSON)
			}
			golden, err := picture.Read(args[0])
			if err != nil {
				return err
			}
			capture, err := picture.Read(args[1])
			if err != nil {
				return err
			}
			if previous != "" {
				if opt.Previous, err = picture.Read(previous); err != nil {
					return err
				}
			}
			res := compare.Compare(golden, capture, opt)
			if out != "" {
				if err := picture.WritePNG(out, report.Diff(golden, capture, res, opt.Ignore...)); err != nil {
					return err
				}
			}
			if relief != "" {
				m, ok := compare.Map(golden, capture)
				if !ok {
					return errors.New("there is no SSIM map of pictures of unlike size, or smaller than its window of 11x11")
				}
				if err := picture.WritePNG(relief, m); err != nil {
					return err
				}
			}
			for _, w := range res.Warnings {
				fmt.Fprintf(a.stderr, "fascia: warning: %s\n", w)
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
			fmt.Fprintln(a.stdout, headline(res))
			tell(a.stdout, res)
			return nil
		},
	}
	cmd.Flags().StringVar(&file, "bench", "", "the bench whose camera took the capture, a photo")
	cmd.Flags().StringVar(&previous, "previous", "", "the capture before, by which stale and torn pictures are told")
	cmd.Flags().StringArrayVar(&ignore, "ignore", nil, "an area x,y,width,height that does not count; may be given again")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the result as JSON on stdout")
	cmd.Flags().StringVar(&relief, "map", "", "write the SSIM map: white is alike, black is not")
	cmd.Flags().StringVarP(&out, "out", "o", "", "write a picture that shows the difference")
	return cmd
}

func headline(res compare.Result) string {
	g, c := res.Size.Golden, res.Size.Capture
	if g != c {
		return fmt.Sprintf("differs: %dx%d against %dx%d", g[0], g[1], c[0], c[1])
	}
	if len(res.Regions) == 1 {
		r := res.Regions[0]
		return fmt.Sprintf("differs: %d px in %dx%d at %d,%d", res.Changed, r.W, r.H, r.X, r.Y)
	}
	return fmt.Sprintf("differs: %d px in %d regions", res.Changed, len(res.Regions))
}

// tell prints what changed, one sentence a line.
func tell(w io.Writer, res compare.Result) {
	for _, s := range report.Sentences(res) {
		fmt.Fprintf(w, "    %s\n", s)
	}
}

func parseRect(text string) (image.Rectangle, error) {
	parts := strings.Split(text, ",")
	var v [4]int
	ok := len(parts) == 4
	for i := 0; ok && i < 4; i++ {
		var err error
		v[i], err = strconv.Atoi(strings.TrimSpace(parts[i]))
		ok = err == nil && v[i] >= 0 && v[i] < 1<<20
	}
	if !ok || v[2] == 0 || v[3] == 0 {
		return image.Rectangle{}, fmt.Errorf("area %q is not x,y,width,height in pixels", text)
	}
	return image.Rect(v[0], v[1], v[0]+v[2], v[1]+v[3]), nil
}
