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
	"runtime"
	"strconv"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/record"
	"github.com/fascia-bench/fascia/suites/report"
)

const benchFile = "bench.yaml"

// A runOptions is what the flags of run say.
type runOptions struct {
	asJSON, stop, dry, fresh bool
	only, look, part, resume string
	again                    int
	shuffle                  uint64
	queue                    time.Duration
	beside                   int // how many other runs go on at once
}

func (a *app) runCommand() *cobra.Command {
	var benches []string
	var o runOptions
	cmd := &cobra.Command{
		Use:   "run [WALK...]",
		Short: "Walk the device and hold every look against its golden",
		Long: `Walks the walks of the folder walks beside bench.yaml, or those named by file or name,
and leaves a run folder under runs: the record run.json, the captures, the device's log,
report.html and junit.xml.

With several benches of one target the walks are spread over them, a process each, and
the parts are joined in the first bench's runs.`,
		Example: `  fascia run
  fascia run "bed lamp" --again 5
  fascia run --bench green-1.yaml walks/home.yaml
  fascia run --only "alarm || chart" --stop
  fascia run --part 2of5
  fascia run --resume runs/2031-05-04-093000`,
		RunE: func(cmd *cobra.Command, walks []string) error {
			if o.dry {
				return a.dryRun(benches[0], walks)
			}
			if len(benches) > 1 {
				return a.spread(cmd.Context(), benches, walks, o)
			}
			run, _, err := a.walk(cmd.Context(), benches[0], walks, o)
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
	f := cmd.Flags()
	f.StringArrayVar(&benches, "bench", []string{benchFile}, "the bench to run on; may be given again")
	f.BoolVar(&o.asJSON, "json", false, "print the run's record as JSON on stdout")
	f.StringVar(&o.only, "only", "", "walks whose labels fit an expression: \"slow && !de\"")
	f.StringVar(&o.look, "look", "", "pattern of walk/look or look; other looks only settle")
	f.BoolVar(&o.stop, "stop", false, "stop at the first failure")
	f.IntVar(&o.again, "again", 1, "walk each walk so often more, and count distinct pictures per look")
	f.Uint64Var(&o.shuffle, "shuffle", 0, "a seed: walk once more in an order drawn from it, without a reset between, and compare with fresh looks")
	f.StringVar(&o.part, "part", "", "a part of all walks, as 2of5")
	f.StringVar(&o.resume, "resume", "", "take up a run that was cut off")
	f.BoolVar(&o.fresh, "fresh", false, "walk what walks start from each time, also on a twin")
	f.BoolVar(&o.dry, "dry", false, "print the steps and what the looks may cost, and run nothing")
	f.DurationVar(&o.queue, "queue", 0, "how long to wait for a device that another run has")
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

// plan reads bench and walks, and finds the folder and the record that the run begins with.
func (o runOptions) plan(bench string, walks []string) (*suites.Plan, string, *record.Run, error) {
	plan, err := suites.Prepare(bench, walks)
	if err != nil {
		return nil, "", nil, err
	}
	if err := plan.CheckAsked(o.only, o.look); err != nil {
		return nil, "", nil, err
	}
	if o.resume != "" {
		if o.part != "" || len(walks) > 0 {
			return nil, "", nil, errors.New("--resume takes up the walks that are left of a run: it goes with neither walks nor --part")
		}
		before, err := record.Load(o.resume)
		if err != nil {
			return nil, "", nil, err
		}
		return plan, o.resume, before, plan.Resume(before)
	}
	if o.part != "" {
		i, n, err := parsePart(o.part)
		if err != nil {
			return nil, "", nil, err
		}
		if err := plan.Part(i, n); err != nil {
			return nil, "", nil, err
		}
	}
	return plan, "", nil, nil
}

func parsePart(text string) (i, n int, err error) {
	var rest string
	if k, _ := fmt.Sscanf(text+" ", "%dof%d%s", &i, &n, &rest); k != 2 || rest != "" {
		return 0, 0, fmt.Errorf("part %q is not of the form 2of5", text)
	}
	return i, n, nil
}

// walk runs walks on a bench and tells what happens; it returns the record and the report page.
func (a *app) walk(ctx context.Context, bench string, walks []string, o runOptions) (*record.Run, string, error) {
	plan, dir, before, err := o.plan(bench, walks)
	if err != nil {
		return nil, "", err
	}
	told := io.Writer(a.stdout)
	if o.asJSON {
		told = a.stderr
	}
	show := newShow(told, a.stderr, plan)
	run, dir, err := a.run(ctx, plan, dir, before, o, show.event)
	show.clear()
	if err != nil {
		return run, "", err
	}
	if run.Why != "" && len(run.Looks) == 0 {
		if o.asJSON {
			return run, "", a.printJSON(run)
		}
		return run, "", refused(run)
	}
	page, err := pages(dir, run)
	if err != nil {
		return run, "", err
	}
	show.summary(run)
	fmt.Fprintf(told, "report: %s\n", page)
	if o.asJSON {
		return run, page, a.printJSON(run)
	}
	return run, page, nil
}

// pages makes what people and CI systems read of a run.
func pages(dir string, run *record.Run) (string, error) {
	var failed [3]error
	var wg sync.WaitGroup
	for i, write := range []func(string, *record.Run) error{report.Page, report.JUnit, report.Summary} {
		wg.Go(func() { failed[i] = write(dir, run) })
	}
	wg.Wait()
	return filepath.Join(dir, report.PageFile), errors.Join(failed[:]...)
}

// run takes the bench, prepares it and has the specs walk; dir is "" for a new run.
func (a *app) run(ctx context.Context, plan *suites.Plan, dir string, before *record.Run, o runOptions, watch func(*record.Run, suites.Event)) (*record.Run, string, error) {
	who := fmt.Sprintf("process %d, since %s", os.Getpid(), time.Now().Format(time.TimeOnly))
	release, err := plan.Bench.Lock(ctx, who, o.queue)
	if err != nil {
		return nil, "", hinted{err, "wait for it with --queue 10m, or end the other run"}
	}
	defer release()
	if dir == "" {
		if dir, err = suites.NewRun(plan, time.Now()); err != nil {
			return nil, "", err
		}
	}
	if err := a.prepare(ctx, plan, dir); err != nil {
		return nil, "", err
	}
	self, err := ownFile()
	if err != nil {
		return nil, "", err
	}
	args := []string{"specs", "--bench", plan.Bench.File, "--run", dir, "--only", o.only, "--look", o.look, "--again", strconv.Itoa(max(1, o.again)),
		"--shuffle", strconv.FormatUint(o.shuffle, 10)}
	for flag, set := range map[string]bool{"--stop": o.stop, "--fresh": o.fresh, "--hands": isTerminal(a.stderr)} {
		if set {
			args = append(args, flag)
		}
	}
	if before != nil {
		args = append(args, "--build", before.Device.Build)
	}
	args = append(args, "--")
	for _, w := range plan.Walks {
		args = append(args, w.File)
	}
	child := exec.CommandContext(ctx, self, args...)
	politely(child)
	if o.beside >= runtime.NumCPU() && os.Getenv("GOMAXPROCS") == "" {
		// There are more of them than cores, and each would wake threads for all cores.
		child.Env = append(os.Environ(), "GOMAXPROCS=1")
	}
	run := suites.Start(plan, dir, before)
	run.Tool = version()
	err = suites.Run(ctx, run, dir, child, watch)
	if ctx.Err() != nil && run.Hint == "" {
		run.Hint = kept(run, dir)
		err = errors.Join(err, record.Save(filepath.Join(dir, record.File), run))
	}
	return run, dir, err
}

// ownFile is the command's own file, to start it again. The system says so, as long as /proc is mounted; where it is
// not, what the command was called by has to do.
func ownFile() (string, error) {
	file, err := os.Executable()
	if err == nil {
		return file, nil
	}
	if called, callErr := exec.LookPath(os.Args[0]); callErr == nil {
		return filepath.Abs(called)
	}
	return "", err
}

// kept says what a run that was interrupted leaves, and how to go on with it.
func kept(run *record.Run, dir string) string {
	done := 0
	for _, w := range run.Walks {
		if w.Done && w.Why == "" {
			done++
		}
	}
	return fmt.Sprintf("%d of %d walks and %d looks are kept in %s; to take it up: fascia run --resume %s", done, len(run.Walks), len(run.Looks), dir, dir)
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
	var bench string
	c := suites.Config{Events: os.Stderr}
	cmd := &cobra.Command{
		Use:    "specs",
		Hidden: true,
		RunE: func(cmd *cobra.Command, files []string) error {
			collectLess()
			plan, err := suites.PrepareFiles(bench, files)
			if err != nil {
				return err
			}
			if c.BuiltIn, err = demo.Twin(); err != nil {
				return err
			}
			a.status = suites.Specs(cmd.Context(), plan, c)
			return nil
		},
	}
	f := cmd.Flags()
	f.StringVar(&bench, "bench", benchFile, "")
	f.StringVar(&c.RunDir, "run", "", "")
	f.StringVar(&c.Only, "only", "", "")
	f.StringVar(&c.Look, "look", "", "")
	f.StringVar(&c.Build, "build", "", "")
	f.IntVar(&c.Again, "again", 1, "")
	f.Uint64Var(&c.Shuffle, "shuffle", 0, "")
	f.BoolVar(&c.Stop, "stop", false, "")
	f.BoolVar(&c.Fresh, "fresh", false, "")
	f.BoolVar(&c.Hands, "hands", false, "")
	return cmd
}
