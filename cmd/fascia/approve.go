package main

import (
	"errors"
	"fmt"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/record"
)

func (a *app) approveCommand() *cobra.Command {
	var bench, reason, by string
	var choice suites.Choice
	cmd := &cobra.Command{
		Use:   "approve [RUN]",
		Short: "Make captures of a run the goldens that later runs are held against",
		Long: `Approves looks of a run, by default the newest beside bench.yaml. A look is approved only as
it was captured, and with a reason; who, when, why and on which build is written to
golden/ledger.jsonl.`,
		Example: "  fascia approve --look \"home/*\" --reason \"first goldens\"\n  fascia approve runs/2031-05-04-093000 --cause recoloured --reason \"new accent colour\"",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if strings.TrimSpace(reason) == "" {
				return errors.New("an approval needs a reason: --reason \"…\"")
			}
			if by == "" {
				name, err := exec.Command("git", "config", "user.name").Output()
				if by = strings.TrimSpace(string(name)); err != nil || by == "" {
					return hinted{errors.New("who approves? git knows no user.name here"), "say it with --by NAME"}
				}
			}
			dir := ""
			if len(args) == 1 {
				dir = args[0]
			} else {
				var err error
				if dir, err = record.Latest(filepath.Join(filepath.Dir(bench), suites.RunsDir)); err != nil {
					return err
				}
			}
			looks, err := suites.Approve(dir, choice, by, reason, time.Now())
			if err != nil {
				return err
			}
			for _, l := range looks {
				fmt.Fprintf(a.stdout, "approved: %s / %s\n", l.Walk, l.Look)
			}
			fmt.Fprintf(a.stdout, "%d looks of run %s, by %s\n", len(looks), filepath.Base(dir), by)
			return nil
		},
	}
	cmd.Flags().StringVar(&bench, "bench", benchFile, "the bench whose newest run is meant")
	cmd.Flags().StringVar(&choice.Look, "look", "", "pattern of walk/look or look")
	cmd.Flags().StringVar(&choice.Cause, "cause", "", "only looks with a finding of this cause")
	cmd.Flags().BoolVar(&choice.All, "all", false, "every look that differs or has no golden")
	cmd.Flags().StringVar(&reason, "reason", "", "why it is right (needed)")
	cmd.Flags().StringVar(&by, "by", "", "who approves; git's user.name if not given")
	return cmd
}
