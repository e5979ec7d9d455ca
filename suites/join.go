package suites

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"github.com/fascia-bench/fascia/suites/record"
)

// Join puts the parts of one run together in a new or empty folder. It refuses what does not belong together:
// another target, device or build, other walks, a part twice or missing, a run that did not end.
func Join(parts []string, out string) (*record.Run, error) {
	if len(parts) < 2 {
		return nil, errors.New("join needs at least two runs")
	}
	runs, failed := make([]*record.Run, len(parts)), make([]error, len(parts))
	var loading sync.WaitGroup
	for i, dir := range parts {
		loading.Go(func() { runs[i], failed[i] = record.Load(dir) })
	}
	loading.Wait()
	if err := errors.Join(failed...); err != nil {
		return nil, err
	}
	if err := belong(parts, runs); err != nil {
		return nil, err
	}
	if err := os.MkdirAll(filepath.Dir(out), 0o777); err != nil {
		return nil, fmt.Errorf("join: %w", err)
	}
	if err := os.Mkdir(out, 0o777); err != nil {
		if there, readErr := os.ReadDir(out); readErr != nil || len(there) > 0 {
			return nil, fmt.Errorf("join: %w", err)
		}
	}
	whole := *runs[0]
	whole.Run, whole.Part = filepath.Base(out), ""
	whole.Walks, whole.Looks, whole.Expectations = []record.Walk{}, []record.Look{}, []record.Expectation{}
	whole.Notes = nil
	dir, err := filepath.Abs(filepath.Join(parts[0], filepath.FromSlash(runs[0].Dir)))
	if err != nil {
		return nil, err
	}
	abs, err := filepath.Abs(out)
	if err != nil {
		return nil, err
	}
	rel, err := filepath.Rel(abs, dir)
	if err != nil {
		return nil, fmt.Errorf("join: the run and its bench must be on one volume: %w", err)
	}
	whole.Dir = filepath.ToSlash(rel)
	var copying sync.WaitGroup
	copied := make([]error, len(runs))
	for i, run := range runs {
		whole.Walks = append(whole.Walks, run.Walks...)
		whole.Looks = append(whole.Looks, run.Looks...)
		whole.Expectations = append(whole.Expectations, run.Expectations...)
		whole.Notes = append(whole.Notes, run.Notes...)
		if run.Started.Before(whole.Started) {
			whole.Started = run.Started
		}
		if run.Ended.After(whole.Ended) {
			whole.Ended = run.Ended
		}
		copying.Go(func() { copied[i] = takeOver(parts[i], out, run) })
	}
	copying.Wait()
	if err := errors.Join(copied...); err != nil {
		return nil, err
	}
	// In the order of one whole run, so that the parts joined equal it.
	place := map[string]string{}
	for _, w := range whole.Walks {
		place[w.Walk] = w.File
	}
	slices.SortStableFunc(whole.Walks, func(a, b record.Walk) int { return cmp.Compare(a.File, b.File) })
	slices.SortStableFunc(whole.Looks, func(a, b record.Look) int { return cmp.Compare(place[a.Walk], place[b.Walk]) })
	slices.SortStableFunc(whole.Expectations, func(a, b record.Expectation) int { return cmp.Compare(place[a.Walk], place[b.Walk]) })
	return &whole, record.Save(filepath.Join(out, record.File), &whole)
}

// belong checks that runs are parts of one.
func belong(dirs []string, runs []*record.Run) error {
	first := runs[0]
	walks, parts := map[string]string{}, map[string]string{}
	for i, run := range runs {
		dir := dirs[i]
		switch {
		case run.Ended.IsZero():
			return fmt.Errorf("%s did not come to its end: take it up with fascia run --resume", dir)
		case run.Why != "":
			return fmt.Errorf("%s has no verdict: %s", dir, run.Why)
		case run.Target != first.Target:
			return fmt.Errorf("%s is of target %q, %s of %q", dir, run.Target, dirs[0], first.Target)
		case run.Device.Device != first.Device.Device || run.Device.Build != first.Device.Build || run.Device.Library != first.Device.Library:
			return fmt.Errorf("%s is of %s, build %s, %s; %s of %s, build %s, %s", dir, run.Device.Device, run.Device.Build, run.Device.Library,
				dirs[0], first.Device.Device, first.Device.Build, first.Device.Library)
		case run.Plan != first.Plan:
			return fmt.Errorf("%s and %s are not parts of one run: their walks differ", dir, dirs[0])
		case run.Part == "":
			return fmt.Errorf("%s is no part of a run", dir)
		}
		if other, twice := parts[run.Part]; twice {
			return fmt.Errorf("%s and %s are both part %s", dir, other, run.Part)
		}
		parts[run.Part] = dir
		for _, w := range run.Walks {
			if other, twice := walks[w.Walk]; twice {
				return fmt.Errorf("walk %q is in %s and in %s", w.Walk, other, dir)
			}
			walks[w.Walk] = dir
		}
	}
	var n, k int
	if _, err := fmt.Sscanf(first.Part, "%dof%d", &k, &n); err != nil {
		return fmt.Errorf("%s calls itself part %q", dirs[0], first.Part)
	}
	for i := 1; i <= n; i++ {
		if _, ok := parts[fmt.Sprintf("%dof%d", i, n)]; !ok {
			return fmt.Errorf("part %dof%d is missing", i, n)
		}
	}
	if len(parts) != n {
		return fmt.Errorf("%d parts of a run of %d", len(parts), n)
	}
	return nil
}

// takeOver takes a part's pictures into the whole, and its logs under its own name. Nobody writes into a picture of a run,
// so part and whole may have the same file; where they lie on two volumes, or a file system has no links, it is copied.
func takeOver(from, to string, run *record.Run) error {
	root, err := os.OpenRoot(from)
	if err != nil {
		return fmt.Errorf("join: %w", err)
	}
	defer root.Close()
	take := func(name, as string, link bool) error {
		file := filepath.Join(to, filepath.FromSlash(as))
		if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
			return fmt.Errorf("join: %w", err)
		}
		// The root refuses a path of the record that leads out of the part.
		if info, err := root.Lstat(name); err == nil && link && info.Mode().IsRegular() &&
			os.Link(filepath.Join(from, filepath.FromSlash(name)), file) == nil {
			return nil
		}
		data, err := root.ReadFile(name)
		if err != nil {
			return fmt.Errorf("join %s: %w", from, err)
		}
		return os.WriteFile(file, data, 0o666)
	}
	done := map[string]bool{} // a look that is as approved has one picture for both
	for _, l := range run.Looks {
		for _, name := range []string{l.Capture, l.Golden} {
			if name == "" || done[name] {
				continue
			}
			done[name] = true
			if err := take(name, name, true); err != nil {
				return err
			}
		}
	}
	for _, name := range []string{"device.log", "specs.log", "before.log"} {
		if err := take(name, run.Part+"-"+name, false); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
	}
	return nil
}
