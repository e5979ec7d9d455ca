package main

import (
	"errors"
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/suites/demo"
)

func (a *app) demoCommand() *cobra.Command {
	var dir, camera string
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "The whole job on the built-in device, without hardware",
		Long: `Walks the Fernhouse mist controller, a small device that runs inside this program, through
its screens: first as approved, then with its drawing layer upgraded from draw-1 to
draw-2, which brings changes that were meant and some that were not.

With --camera a simulated camera stands before the device and measures its panel first; then every look is held
against its golden both by the framebuffer and by a photo. That takes some minutes.

The bench, walks, goldens and runs stay in a folder, to look at and to play with.`,
		Example: "  fascia demo\n  fascia demo -o scratch/fernhouse",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if camera != "" {
				return a.demoCamera(cmd.Context(), dir, camera)
			}
			if err := demo.Unpack(dir); err != nil {
				return err
			}
			fmt.Fprintf(a.stdout, "1. The firmware as approved, on drawing layer draw-1\n\n")
			first, _, err := a.walk(cmd.Context(), filepath.Join(dir, demo.BenchFile), nil, runOptions{})
			if err != nil {
				return err
			}
			if first.Exit() != exitOK {
				return errors.New("the demo's own device does not look as approved")
			}
			fmt.Fprintf(a.stdout, "\n2. The same firmware on the upgraded drawing layer draw-2\n\n")
			second, page, err := a.walk(cmd.Context(), filepath.Join(dir, demo.UpgradeFile), nil, runOptions{})
			if err != nil {
				return err
			}
			if second.Exit() == exitNoVerdict {
				return errors.New("the upgraded device could not be walked to the end")
			}
			fmt.Fprintf(a.stdout, "\nEvery change above is in draw-2: some were meant, some are defects. The page to look at them:\n  %s\n", page)
			fmt.Fprintf(a.stdout, "To approve what was meant, for example: fascia approve %s --cause recoloured --reason \"new accent colour\"\n", filepath.Dir(page))
			return nil
		},
	}
	cmd.Flags().StringVar(&camera, "camera", "", "a simulated camera as well, in good, fair or poor conditions; fair if none is named")
	cmd.Flags().Lookup("camera").NoOptDefVal = "fair"
	cmd.Flags().StringVarP(&dir, "out", "o", "fascia-demo", "folder for the demo's files")
	return cmd
}
