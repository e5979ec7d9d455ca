package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites"
)

func (a *app) goldenCommand() *cobra.Command {
	cmd := &cobra.Command{
		Use:     "golden",
		Short:   "Check the goldens against their ledger, tell a look's history, remove what is not used",
		Example: "  fascia golden check\n  fascia golden log home/mild",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return hinted{errors.New("which one? golden check, golden log LOOK or golden prune"), "fascia golden --help"}
		},
	}
	cmd.AddCommand(a.goldenCheckCommand(), a.goldenLogCommand(), a.goldenPruneCommand())
	return cmd
}

// benchOf prepares the bench's walks, and the store beside it even if those cannot be read.
func benchOf(file string) (*golden.Store, *suites.Plan, error) {
	store, err := golden.Open(filepath.Join(filepath.Dir(file), suites.GoldenDir))
	if err != nil {
		return nil, nil, err
	}
	p, err := suites.Prepare(file, nil)
	return store, p, err
}

func (a *app) goldenCheckCommand() *cobra.Command {
	var bench string
	var repair, asJSON bool
	cmd := &cobra.Command{
		Use:   "check",
		Short: "Hold every golden against the ledger, and the ledger against itself",
		Long: `Says which goldens are missing, altered, forked or orphaned, each with the command that settles
it, and which are unused because no walk asks for them any more. It changes nothing, unless
--repair is given: then what an interrupted approval left behind is settled.

Exit status: 0 every golden is as approved (some may be unused); 1 something is wrong; 2 it
cannot be told.`,
		Example: "  fascia golden check\n  fascia golden check --repair",
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			store, plan, walksErr := benchOf(bench)
			if store == nil {
				return walksErr
			}
			var repaired []golden.Problem
			if repair {
				var err error
				if repaired, err = store.Repair(); err != nil {
					return err
				}
			}
			done := a.busy("reading goldens")
			report, err := store.Check()
			done()
			if err != nil {
				return err
			}
			var unused []golden.Entry
			if walksErr == nil {
				if unused, err = suites.Unused(plan); err != nil {
					return err
				}
			}
			if asJSON {
				if err := json.NewEncoder(a.stdout).Encode(map[string]any{"goldens": report.Goldens,
					"problems": emptyNotNull(report.Problems), "repaired": emptyNotNull(repaired), "unused": emptyNotNull(files(unused))}); err != nil {
					return err
				}
			} else {
				tellCheck(a.stdout, report, repaired, unused)
			}
			if !report.Clean() {
				a.status = exitDiffers
			}
			if walksErr != nil {
				return hinted{fmt.Errorf("which goldens are unused cannot be told: %w", walksErr), "name the bench with --bench FILE"}
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&bench, "bench", benchFile, "the bench whose goldens are meant")
	cmd.Flags().BoolVar(&repair, "repair", false, "settle what interrupted approvals left behind")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON document")
	return cmd
}

func emptyNotNull[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}

// files names the goldens of entries as paths in the store.
func files(es []golden.Entry) []string {
	var out []string
	for _, e := range es {
		out = append(out, e.File())
	}
	return out
}

func tellCheck(out io.Writer, r golden.Report, repaired []golden.Problem, unused []golden.Entry) {
	for _, p := range repaired {
		fmt.Fprintf(out, "repaired  %s\n          %s\n", p.File, p.Says)
	}
	for _, p := range r.Problems {
		fmt.Fprintf(out, "%-9s %s\n          %s\n          settle it: %s\n", p.Kind, p.File, p.Says, p.Do)
	}
	for _, e := range unused {
		fmt.Fprintf(out, "unused    %s\n          no walk has a look %q of a walk %q any more\n", e.File(), e.Look, e.Walk)
	}
	if len(unused) > 0 {
		fmt.Fprintf(out, "          fascia golden prune removes what is unused, once told to\n")
	}
	fmt.Fprintf(out, "%d goldens as approved, %d problems, %d unused\n", r.Goldens, len(r.Problems), len(unused))
}

func (a *app) goldenLogCommand() *cobra.Command {
	var bench string
	var asJSON bool
	cmd := &cobra.Command{
		Use:     "log LOOK",
		Short:   "Tell who approved a look, when, why, and on which firmware",
		Long:    "Tells the history of a look, oldest first. LOOK is walk/look or look, or a pattern of them.",
		Example: "  fascia golden log home/mild\n  fascia golden log \"alarm/*\"",
		Args:    cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			dir := filepath.Join(filepath.Dir(bench), suites.GoldenDir)
			store, err := golden.Open(dir)
			if err != nil {
				return err
			}
			all, err := store.Entries()
			if err != nil {
				return err
			}
			var found []golden.Entry
			for _, e := range all {
				ok, err := suites.Named(args[0], e.Walk, e.Look)
				if err != nil {
					return err
				}
				if ok {
					found = append(found, e)
				}
			}
			if len(found) == 0 {
				return fmt.Errorf("nobody has approved a look %q in %s", args[0], dir)
			}
			if asJSON {
				return json.NewEncoder(a.stdout).Encode(found)
			}
			tellLog(a.stdout, found)
			return nil
		},
	}
	cmd.Flags().StringVar(&bench, "bench", benchFile, "the bench whose goldens are meant")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print one JSON document")
	return cmd
}

func tellLog(out io.Writer, es []golden.Entry) {
	file := ""
	for _, e := range es {
		if e.File() != file {
			file = e.File()
			fmt.Fprintf(out, "%s\n", file)
		}
		did := "approved"
		switch {
		case e.Withdrawn:
			did = "withdrawn"
		case e.Box != nil:
			did = fmt.Sprintf("approved in part, %dx%d at %d,%d,", e.Box[2], e.Box[3], e.Box[0], e.Box[1])
		}
		fmt.Fprintf(out, "  %s  %s by %s: %s\n", e.When.Format("2006-01-02 15:04"), did, e.Who, e.Why)
		if e.Withdrawn {
			fmt.Fprintf(out, "      pixels %.12s\n", e.SHA256)
			continue
		}
		fmt.Fprintf(out, "      on %s build %s, %s, in run %s; pixels %.12s", e.Device, e.Build, e.Library, e.Run, e.SHA256)
		if e.Replaced != "" {
			fmt.Fprintf(out, " for %.12s", e.Replaced)
		}
		fmt.Fprintln(out)
		if n := len(e.Settles); n > 0 {
			fmt.Fprintf(out, "      settles a fork of %d branches\n", n+1)
		}
	}
}

func (a *app) goldenPruneCommand() *cobra.Command {
	var bench, reason, by string
	var remove bool
	cmd := &cobra.Command{
		Use:   "prune",
		Short: "List goldens that nothing uses, and remove them when told",
		Long: `Lists pictures that no line of the ledger knows, and goldens that no walk asks for any more.
With --remove and a reason they are removed; a golden that somebody approved gets a line in the
ledger that it was withdrawn, by whom and why.`,
		Example: "  fascia golden prune\n  fascia golden prune --remove --reason \"the pairing screen is gone\"",
		Args:    cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			store, plan, err := benchOf(bench)
			if err != nil {
				return err
			}
			done := a.busy("reading goldens")
			report, err := store.Check()
			done()
			if err != nil {
				return err
			}
			var orphans []golden.Problem
			for _, p := range report.Problems {
				if p.Kind == golden.Orphaned || p.Kind == golden.Misnamed {
					orphans = append(orphans, p)
				}
			}
			unused, err := suites.Unused(plan)
			if err != nil {
				return err
			}
			for _, p := range orphans {
				fmt.Fprintf(a.stdout, "%-9s %s\n", p.Kind, p.File)
			}
			for _, e := range unused {
				fmt.Fprintf(a.stdout, "unused    %s\n", e.File())
			}
			if !remove || len(orphans)+len(unused) == 0 {
				fmt.Fprintf(a.stdout, "%d to prune", len(orphans)+len(unused))
				if len(orphans)+len(unused) > 0 {
					fmt.Fprint(a.stdout, "; nothing was removed, --remove --reason TEXT does it")
				}
				fmt.Fprintln(a.stdout)
				return nil
			}
			if strings.TrimSpace(reason) == "" {
				return errors.New("removing goldens needs a reason: --reason \"…\"")
			}
			if by, err = whoever(by); err != nil {
				return err
			}
			if _, err := store.Withdraw(unused, by, reason, time.Now()); err != nil {
				return err
			}
			gone, err := store.Discard(orphans)
			if err != nil {
				return err
			}
			fmt.Fprintf(a.stdout, "%d goldens withdrawn by %s, %d orphans removed\n", len(unused), by, len(gone))
			return nil
		},
	}
	cmd.Flags().StringVar(&bench, "bench", benchFile, "the bench whose goldens are meant")
	cmd.Flags().BoolVar(&remove, "remove", false, "remove what is listed")
	cmd.Flags().StringVar(&reason, "reason", "", "why it is removed (needed with --remove)")
	cmd.Flags().StringVar(&by, "by", "", "who removes it; git's user.name if not given")
	return cmd
}
