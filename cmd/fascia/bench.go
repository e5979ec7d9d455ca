package main

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/camera/align"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/link/line"
	"github.com/fascia-bench/fascia/suites/demo"
)

func (a *app) benchCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:     "bench",
		Short:   "Health and cost of a bench, and its camera",
		Example: "  fascia bench check\n  fascia bench ports\n  fascia bench align",
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			return hinted{errors.New("which one? bench check, bench ports, bench cost, bench patterns or bench align"), "fascia bench --help"}
		},
	}
	cmd.AddCommand(a.benchCheckCommand(), a.benchPortsCommand(), a.benchCostCommand(), a.benchPatternsCommand(), a.benchAlignCommand())
	return cmd
}

func (a *app) benchCheckCommand() *cobra.Command {
	var file string
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "check",
		Short:   "Health of the link, of the device and of its camera, in figures, with advice",
		Example: "  fascia bench check\n  fascia bench check --bench green-1.yaml --json",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			b, err := bench.Read(file)
			if err != nil {
				return err
			}
			twin, err := demo.Twin()
			if err != nil {
				return err
			}
			release, err := b.Lock(cmd.Context(), "bench check", 0)
			if err != nil {
				return err
			}
			defer release()
			d, err := b.Open(cmd.Context(), bench.Options{BuiltIn: twin, Log: func(l link.LogLine) {
				fmt.Fprintf(a.stderr, "device: %s\n", l.Text)
			}})
			if err != nil {
				return err
			}
			defer d.Close()
			h, err := d.Check(cmd.Context())
			if err != nil {
				return err
			}
			var eye *align.Health
			if b.Camera != nil {
				shown, err := d.Look(cmd.Context(), link.LookOptions{})
				if err != nil {
					return err
				}
				seen := align.Check(cmd.Context(), b.Camera, shown.Frame.RGBA())
				eye = &seen
			}
			if asJSON {
				return a.printJSON(struct {
					bench.Health
					Camera *align.Health `json:"camera,omitempty"`
				}{h, eye})
			}
			row := func(what, format string, args ...any) {
				fmt.Fprintf(a.stdout, "%-14s %s\n", what, fmt.Sprintf(format, args...))
			}
			row("device", "%s, %s, %s, build %s, protocol %d", h.Device, h.Firmware, h.Library, h.Build, h.Protocol)
			row("panel", "%s", h.Panel)
			row("last reset", "%s", h.Reset)
			row("round trip", "%.2f ms median, %.2f ms worst of %d", h.RoundTrip, h.RoundTripWorst, h.Requests)
			row("whole picture", "%d bytes at %.0f bytes/s", h.PictureBytes, h.Throughput)
			row("trouble", "%d requests sent again, %d bytes of noise", h.Resent, h.Noise)
			row("at rest", "still: %t, two captures the same: %t", h.Still, h.Repeatable)
			if eye != nil {
				a.tellCamera(row, *eye)
				h.Advice = append(h.Advice, eye.Advice...)
			}
			for _, advice := range h.Advice {
				fmt.Fprintf(a.stdout, "advice: %s\n", advice)
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&file, "bench", benchFile, "the bench to check")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the figures as JSON on stdout")
	return cmd
}

// tellCamera prints how a camera is doing, as far as that could be measured.
func (a *app) tellCamera(row func(what, format string, args ...any), h align.Health) {
	switch {
	case h.Photo[0] == 0:
		row("camera", "%s, which gave no photo", h.Source)
	case h.Gain[0] == 0:
		row("camera", "%s, photos of %dx%d", h.Source, h.Photo[0], h.Photo[1])
	default:
		row("camera", "%s, photos of %dx%d, %.2f photo px a panel px", h.Source, h.Photo[0], h.Photo[1], h.Ratio)
		row("rig", "moved by %.1f,%.1f photo px since it was aligned; light of red, green and blue %.2f, %.2f, %.2f of then", h.Move[0], h.Move[1], h.Gain[0], h.Gain[1], h.Gain[2])
	}
}

func (a *app) benchPortsCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "ports",
		Short:   "Serial ports that a device may be on",
		Example: "  fascia bench ports",
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			ports, err := line.Ports()
			if err != nil {
				return err
			}
			if len(ports) == 0 {
				return hinted{fmt.Errorf("there is no serial port"), "is the board plugged in, and its cable one that carries data?"}
			}
			for _, p := range ports {
				usb := ""
				if p.VID != "" {
					usb = fmt.Sprintf("  serial:usb=%s:%s", p.VID, p.PID)
					if p.Serial != "" {
						usb += ":" + p.Serial
					}
				}
				fmt.Fprintf(a.stdout, "serial:%s%s  %s\n", p.Path, usb, p.Product)
			}
			return nil
		},
	}
}
