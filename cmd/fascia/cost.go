package main

import (
	"fmt"
	"image"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/link/cost"
	"github.com/fascia-bench/fascia/capture/picture"
)

func (a *app) benchCostCommand() *cobra.Command {
	var baud int
	var format string
	var light, asJSON bool
	cmd := &cobra.Command{
		Use:   "cost A.png [B.png]",
		Short: "Bytes and time of a look on the link: unchanged, new, and B after A",
		Long: `Runs the real agent and the real host over pictures and counts the bytes between them, both
ways, framing included.`,
		Example: "  fascia bench cost home.png\n  fascia bench cost home.png pressed.png --baud 921600 --json",
		Args:    cobra.RangeArgs(1, 2),
		RunE: func(cmd *cobra.Command, args []string) error {
			f, err := capture.ParseFormat(format)
			if err != nil {
				return err
			}
			var pictures [2]image.Image
			for i, name := range args {
				if pictures[i], err = picture.Read(name); err != nil {
					return err
				}
			}
			r, err := cost.Measure(cmd.Context(), pictures[0], pictures[1], cost.Options{Format: f, Baud: baud, Light: light})
			if err != nil {
				return err
			}
			if asJSON {
				return a.printJSON(r)
			}
			row := func(what string, f cost.Figure) {
				fmt.Fprintf(a.stdout, "%-10s %7d bytes  %5.1f %% of raw  %8.4f s at %d baud\n", what, f.Bytes, 100*float64(f.Bytes)/float64(r.Raw), f.Seconds, baud)
			}
			fmt.Fprintf(a.stdout, "%-10s %7d bytes\n", "raw", r.Raw)
			row("unchanged", r.Unchanged)
			row("new", r.New)
			if r.Change != nil {
				row("change", *r.Change)
			}
			return nil
		},
	}
	cmd.Flags().IntVar(&baud, "baud", 115200, "speed of the line")
	cmd.Flags().StringVar(&format, "format", "rgb565le", "of the panel")
	cmd.Flags().BoolVar(&light, "light", false, "the device has the light codec only")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the figures as JSON on stdout")
	return cmd
}
