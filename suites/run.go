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

// Run starts the child process cmd, which must call Specs with its standard error as events, and
// keeps the record of what it tells in runDir. watch is called after each event with the record as
// it then stands. The record is written throughout, so a run that is killed leaves what it did. A run that
// was refused before its first walk leaves nothing.
func Run(ctx context.Context, p *Plan, runDir string, cmd *exec.Cmd, watch func(*record.Run, Event)) (*record.Run, error) {
	run := &record.Run{
		Run: filepath.Base(runDir), Bench: p.Bench.Name, Target: p.Bench.Target, Started: time.Now().UTC().Truncate(time.Millisecond), Dir: "../..",
		Walks: []record.Walk{}, Looks: []record.Look{}, Expectations: []record.Expectation{},
	}
	journal := record.NewJournal(runDir, run)
	if err := journal.Save(); err != nil {
		return run, err
	}
	specLog, err := os.Create(filepath.Join(runDir, "specs.log"))
	if err != nil {
		return run, fmt.Errorf("keep the specs' log: %w", err)
	}
	defer specLog.Close()
	cmd.Stdout = specLog
	events, err := cmd.StderrPipe()
	if err != nil {
		return run, err
	}
	if err := cmd.Start(); err != nil {
		return run, fmt.Errorf("start the specs: %w", err)
	}
	var saveErr error
	done := false
	rest := readEvents(events, specLog, func(e Event) {
		done = done || e.Done
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
	}
	run.Ended = time.Now().UTC().Truncate(time.Millisecond)
	if run.Why != "" && len(run.Walks) == 0 && ctx.Err() == nil {
		specLog.Close() // nothing was run, so there is nothing to keep
		if err := os.RemoveAll(runDir); err != nil {
			return run, err
		}
		_ = os.Remove(filepath.Dir(runDir)) // which fails, rightly, where other runs are
		return run, nil
	}
	return run, errors.Join(saveErr, journal.Save())
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
		run.Walks = append(run.Walks, *e.Begin)
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
