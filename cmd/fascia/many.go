package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/record"
)

// spread runs the parts of all walks on several benches at once and joins them.
func (a *app) spread(ctx context.Context, benches, walks []string, o runOptions) error {
	if o.part != "" || o.resume != "" {
		return errors.New("several benches go with neither --part nor --resume: cut the walks by one of them")
	}
	type result struct {
		run *record.Run
		dir string
		err error
	}
	o.beside = len(benches) - 1
	plans, err := suites.PrepareEach(benches, walks)
	if err != nil {
		return err
	}
	for i, plan := range plans {
		if plan.Bench.Target != plans[0].Bench.Target {
			return fmt.Errorf("%s is of target %q, %s of %q: walks are spread over benches of one target", benches[i], plan.Bench.Target, benches[0], plans[0].Bench.Target)
		}
		if err := errors.Join(plan.CheckAsked(o.only, o.look), plan.Part(i+1, len(plans))); err != nil {
			return err
		}
	}
	results := make([]result, len(benches))
	var wg sync.WaitGroup
	var mu sync.Mutex // of the output
	show := newShow(a.stdout, a.stderr, plans...)
	for i, plan := range plans {
		wg.Go(func() {
			run, dir, err := a.run(ctx, plan, "", nil, o, func(run *record.Run, e suites.Event) {
				mu.Lock()
				defer mu.Unlock()
				show.event(run, e)
			})
			results[i] = result{run, dir, err}
		})
	}
	wg.Wait()
	show.clear()
	var dirs []string
	for i, r := range results {
		if r.err != nil {
			return fmt.Errorf("%s: %w", benches[i], r.err)
		}
		if r.run.Why != "" {
			return fmt.Errorf("%s: %w", benches[i], refused(r.run))
		}
		dirs = append(dirs, r.dir)
	}
	out, err := suites.NewRun(plans[0], time.Now())
	if err != nil {
		return err
	}
	run, page, err := join(dirs, out)
	if err != nil {
		return err
	}
	show.summary(run)
	fmt.Fprintf(a.stdout, "report: %s\n", page)
	a.status = run.Exit()
	if o.asJSON {
		return a.printJSON(run)
	}
	return nil
}

// join puts parts together and makes the pages of the whole.
func join(dirs []string, out string) (*record.Run, string, error) {
	run, err := suites.Join(dirs, out)
	if err != nil {
		return nil, "", err
	}
	page, err := pages(out, run)
	return run, page, err
}

func (a *app) joinCommand() *cobra.Command {
	var out string
	cmd := &cobra.Command{
		Use:     "join RUN...",
		Short:   "Put the parts of one run together",
		Example: "  fascia join part-1/runs/* part-2/runs/* -o runs/whole",
		Args:    cobra.MinimumNArgs(2),
		RunE: func(_ *cobra.Command, dirs []string) error {
			if out == "" {
				return errors.New("where to? Name a new folder with -o")
			}
			run, page, err := join(dirs, filepath.Clean(out))
			if err != nil {
				return err
			}
			newShow(a.stdout, a.stderr).summary(run)
			fmt.Fprintf(a.stdout, "report: %s\n", page)
			a.status = run.Exit()
			return nil
		},
	}
	cmd.Flags().StringVarP(&out, "out", "o", "", "the folder of the whole run; it must not exist")
	return cmd
}
