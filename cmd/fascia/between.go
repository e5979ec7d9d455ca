package main

import (
	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/suites/between"
)

func (a *app) betweenCommand() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "between BEFORE [AFTER]",
		Short: "Hold two runs against each other and fold what differs into a few changes",
		Long: `Compares the looks of two runs, of a golden folder and a run, or of two folders of pictures, and
folds what differs into groups that a person would call one change, the likeliest defects first. A
run alone is held against the goldens that it was walked with.

Looks are paired by walk and name, pictures in folders by file name, subfolders included.`,
		Example: "  fascia between runs/2031-05-04-093000 runs/2031-06-01-101500\n  fascia between golden runs/2031-06-01-101500\n  fascia between --json pictures/before pictures/after",
		Args:    cobra.RangeArgs(1, 2),
		RunE: func(_ *cobra.Command, args []string) error {
			after := ""
			if len(args) == 2 {
				after = args[1]
			}
			p, err := between.Open(args[0], after)
			if err != nil {
				return err
			}
			r, err := p.Compare()
			if err != nil {
				return err
			}
			a.status = r.Exit()
			if asJSON {
				return a.printJSON(r)
			}
			r.Tell(a.stdout)
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the groups as JSON on stdout")
	return cmd
}
