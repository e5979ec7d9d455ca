package main

import (
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/suites/record"
)

func (a *app) reportCommand() *cobra.Command {
	var status bool
	cmd := &cobra.Command{
		Use:     "report RUN",
		Short:   "Make a run's page and junit.xml again",
		Example: "  fascia report runs/2031-05-04-093000",
		Args:    cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			run, err := record.Load(args[0])
			if err != nil {
				return err
			}
			page, err := pages(args[0], run)
			if err != nil {
				return err
			}
			fmt.Fprintln(a.stdout, page)
			if status {
				a.status = run.Exit()
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&status, "status", false, "exit with the status that the run deserves")
	return cmd
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}
