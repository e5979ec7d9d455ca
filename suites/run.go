package suites

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"time"

	"github.com/fascia-bench/fascia/suites/record"
)

// NewRun makes the folder of a run beside the bench, named after the time.
func NewRun(p *Plan, now time.Time) (string, error) {
	base := filepath.Join(p.Bench.Dir, RunsDir)
	if err := os.MkdirAll(base, 0o777); err != nil {
		return "", fmt.Errorf("make the run's folder: %w", err)
	}
	name := now.Format("2006-01-02-150405")
	for n := 1; n < 1000; n++ {
		dir := filepath.Join(base, name)
		if n > 1 {
			dir = fmt.Sprintf("%s-%d", dir, n)
		}
		err := os.Mkdir(dir, 0o777)
		if err == nil {
			return dir, nil
		}
		if !errors.Is(err, os.ErrExist) {
			return "", fmt.Errorf("make the run's folder: %w", err)
		}
	}
	return "", fmt.Errorf("make the run's folder: %s and all numbers after it are taken", filepath.Join(base, name))
}

// Start is the record of a run that is about to begin, or, of a run that is taken up, what is left of
// it: the walks that came to their end, with their looks and expectations.
func Start(p *Plan, runDir string, before *record.Run) *record.Run {
	run := &record.Run{
		Run: filepath.Base(runDir), Bench: p.Bench.Name, Target: p.Bench.Target, Started: time.Now().UTC().Truncate(time.Millisecond),
		Dir: "../..", Part: p.PartName, Plan: p.Hash,
		Walks: []record.Walk{}, Looks: []record.Look{}, Expectations: []record.Expectation{},
	}
	if before != nil {
		run.Started, run.Device, run.Notes = before.Started, before.Device, before.Notes
		run.Walks, run.Looks, run.Expectations = finished(before)
	}
	for _, w := range p.Walks {
		run.Walks = append(run.Walks, record.Walk{Walk: w.Name, File: relative(p.Bench.Dir, w.File), Hash: w.Hash, Looks: len(w.Looks())})
	}
	return run
}

// Run starts the child process cmd, which must call Specs with its standard error as events, and keeps
// in runDir the record of what it tells, beginning with run. watch is called after each event. The
// record is written throughout, so a run that is killed leaves what it did. A run that was refused
// before its first walk leaves nothing.
func Run(ctx context.Context, run *record.Run, runDir string, cmd *exec.Cmd, watch func(*record.Run, Event)) error {
	began := time.Now() // what follows is counted from it, whatever becomes of the host's clock
	journal := record.NewJournal(runDir, run)
	before := len(run.Looks) + len(run.Expectations)
	if err := journal.Save(); err != nil {
		return err
	}
	specLog, err := os.OpenFile(filepath.Join(runDir, "specs.log"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o666)
	if err != nil {
		return fmt.Errorf("keep the specs' log: %w", err)
	}
	defer specLog.Close()
	cmd.Stdout = specLog
	events, err := cmd.StderrPipe()
	if err != nil {
		return err
	}
	if err := cmd.Start(); err != nil {
		return fmt.Errorf("start the specs: %w", err)
	}
	var saveErr error
	done, begun := false, map[string]bool{}
	rest := readEvents(events, specLog, func(e Event) {
		done = done || e.Done
		if e.Begin != nil {
			begun[e.Begin.Walk] = true
		}
		apply(run, e)
		if saveErr == nil {
			saveErr = journal.Note(e.End != nil)
		}
		watch(run, e)
	})
	waitErr := cmd.Wait()
	switch {
	case run.Why != "":
	case ctx.Err() != nil:
		run.Why = "the run was interrupted"
	case !done:
		run.Why = "the process that drives the device ended early"
		if waitErr != nil {
			run.Why += ": " + waitErr.Error()
		}
		if rest != "" {
			run.Why += ": " + rest
		}
	case saveErr != nil:
		run.Why = saveErr.Error()
	default: // what was not asked for was not walked
		run.Walks = slices.DeleteFunc(run.Walks, func(w record.Walk) bool { return !w.Done })
	}
	run.Ended = began.Add(time.Since(began)).UTC().Truncate(time.Millisecond)
	if run.Why != "" && len(begun) == 0 && before == 0 && ctx.Err() == nil {
		specLog.Close() // nothing was run, so there is nothing to keep
		if err := os.RemoveAll(runDir); err != nil {
			return err
		}
		_ = os.Remove(filepath.Dir(runDir)) // which fails, rightly, where other runs are
		return nil
	}
	return errors.Join(saveErr, journal.Save())
}

// readEvents hands on each event and copies other lines, such as a panic's, to the log; it returns
// the last of those.
func readEvents(r io.Reader, log io.Writer, handle func(Event)) (other string) {
	in := bufio.NewReader(r)
	for {
		line, err := in.ReadBytes('\n')
		line = bytes.TrimSpace(line)
		var e Event
		if len(line) > 0 && line[0] == '{' && json.Unmarshal(line, &e) == nil {
			handle(e)
		} else if len(line) > 0 {
			if other == "" {
				other = string(line)
			}
			fmt.Fprintf(log, "%s\n", line)
		}
		if err != nil {
			return other
		}
	}
}

// apply enters an event into the record.
func apply(run *record.Run, e Event) {
	switch {
	case e.Device != nil:
		run.Device = *e.Device
	case e.Begin != nil:
		run.Walks = append(slices.DeleteFunc(run.Walks, func(w record.Walk) bool { return w.Walk == e.Begin.Walk }), *e.Begin)
	case e.Look != nil:
		run.Looks = append(run.Looks, *e.Look)
	case e.Expectation != nil:
		run.Expectations = append(run.Expectations, *e.Expectation)
	case e.End != nil:
		for i := range run.Walks {
			if run.Walks[i].Walk == e.End.Walk {
				run.Walks[i] = *e.End
			}
		}
	case e.Note != "":
		run.Notes = append(run.Notes, e.Note)
	case e.Fatal != nil:
		run.Why, run.Hint = e.Fatal.Error, e.Fatal.Hint
	}
}
