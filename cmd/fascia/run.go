package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/record"
	"github.com/fascia-bench/fascia/suites/report"
)

const benchFile = "bench.yaml"

func (a *app) runCommand() *cobra.Command {
	var bench string
	var asJSON bool
	var queue time.Duration
	cmd := &cobra.Command{
		Use:   "run [WALK...]",
		Short: "Walk the device and hold every look against its golden",
		Long: `Walks the walks of the folder walks beside bench.yaml, or those named by file or name,
and leaves a run folder under runs: the record run.json, the captures, the device's log,
report.html and junit.xml.`,
		Example: "  fascia run\n  fascia run \"bed lamp\"\n  fascia run --bench boards/green-1.yaml walks/home.yaml",
		RunE: func(cmd *cobra.Command, walks []string) error {
			run, _, err := a.walk(cmd.Context(), bench, walks, asJSON, queue)
			if err != nil {
				return err
			}
			a.status = run.Exit()
			if run.Why != "" {
				return refused(run)
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&bench, "bench", benchFile, "the bench to run on")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the run's record as JSON on stdout")
	cmd.Flags().DurationVar(&queue, "queue", 0, "how long to wait for a device that another run has")
	return cmd
}

// refused is why a run came to nothing.
func refused(run *record.Run) error {
	err := errors.New(run.Why)
	if run.Hint != "" {
		return hinted{err, run.Hint}
	}
	return err
}

// walk runs walks on a bench and tells what happens; it returns the record and the report page.
func (a *app) walk(ctx context.Context, bench string, walks []string, asJSON bool, queue time.Duration) (*record.Run, string, error) {
	plan, err := suites.Prepare(bench, walks)
	if err != nil {
		return nil, "", err
	}
	release, err := plan.Bench.Lock(ctx, fmt.Sprintf("process %d, since %s", os.Getpid(), time.Now().Format(time.TimeOnly)), queue)
	if err != nil {
		return nil, "", hinted{err, "wait for it with --queue 10m, or end the other run"}
	}
	defer release()
	dir, err := suites.NewRun(plan, time.Now())
	if err != nil {
		return nil, "", err
	}
	if err := a.prepare(ctx, plan, dir); err != nil {
		return nil, "", err
	}
	self, err := os.Executable()
	if err != nil {
		return nil, "", err
	}
	child := exec.CommandContext(ctx, self, append([]string{"specs", "--bench", bench, "--run", dir, "--"}, walks...)...)
	child.Cancel = func() error { return child.Process.Signal(os.Interrupt) }
	child.WaitDelay = 5 * time.Second

	told := io.Writer(a.stdout)
	if asJSON {
		told = a.stderr
	}
	show := newShow(told, a.stderr, plan)
	run, err := suites.Run(ctx, plan, dir, child, show.event)
	show.clear()
	if err != nil {
		return run, "", err
	}
	if run.Why != "" && len(run.Looks) == 0 {
		if asJSON {
			return run, "", a.printJSON(run)
		}
		return run, "", refused(run)
	}
	page := filepath.Join(dir, "report.html")
	if err := errors.Join(report.Page(dir, run), report.JUnit(dir, run)); err != nil {
		return run, "", err
	}
	show.summary(run)
	fmt.Fprintf(told, "report: %s\n", page)
	if asJSON {
		return run, page, a.printJSON(run)
	}
	return run, page, nil
}

// prepare runs the bench's before command and keeps what it prints.
func (a *app) prepare(ctx context.Context, plan *suites.Plan, dir string) error {
	if plan.Bench.Before == "" {
		return nil
	}
	fmt.Fprintf(a.stderr, "before: %s\n", plan.Bench.Before)
	out, err := plan.Bench.Prepare(ctx)
	return errors.Join(err, os.WriteFile(filepath.Join(dir, "before.log"), out, 0o666))
}

func (a *app) printJSON(v any) error {
	enc := json.NewEncoder(a.stdout)
	enc.SetIndent("", " ")
	return enc.Encode(v)
}

// specsCommand is the child process of a run; it is not for people.
func (a *app) specsCommand() *cobra.Command {
	var bench, dir string
	cmd := &cobra.Command{
		Use:    "specs",
		Hidden: true,
		RunE: func(cmd *cobra.Command, walks []string) error {
			plan, err := suites.Prepare(bench, walks)
			if err != nil {
				return err
			}
			twin, err := demo.Twin()
			if err != nil {
				return err
			}
			a.status = suites.Specs(cmd.Context(), plan, dir, twin, os.Stderr)
			return nil
		},
	}
	cmd.Flags().StringVar(&bench, "bench", benchFile, "")
	cmd.Flags().StringVar(&dir, "run", "", "")
	return cmd
}

func (a *app) reportCommand() *cobra.Command {
	return &cobra.Command{
		Use:     "report RUN",
		Short:   "Make a run's page and junit.xml again",
		Example: "  fascia report runs/2031-05-04-093000",
		Args:    cobra.ExactArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			run, err := record.Load(args[0])
			if err != nil {
				return err
			}
			if err := errors.Join(report.Page(args[0], run), report.JUnit(args[0], run)); err != nil {
				return err
			}
			fmt.Fprintln(a.stdout, filepath.Join(args[0], "report.html"))
			return nil
		},
	}
}
