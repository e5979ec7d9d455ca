package suites

import (
	"errors"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"slices"
	"time"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites/record"
)

// A Choice says which looks of a run are meant.
type Choice struct {
	Look  string // pattern of walk/look, of their names or file names; "" any
	Cause string // a cause that a finding must have; "" any
	All   bool   // all that could be approved
}

// Approve makes the chosen captures of a run the goldens of its bench. Only looks that differ or
// have no golden are approved, and only if the capture still has the pixels that were recorded and
// the walk is the one that was walked.
func Approve(runDir string, choice Choice, who, why string, now time.Time) ([]record.Look, error) {
	if choice == (Choice{}) {
		return nil, errors.New("approve which looks? Name them by look or by cause, or say all")
	}
	run, err := record.Load(runDir)
	if err != nil {
		return nil, err
	}
	var chosen []record.Look
	for _, l := range run.Looks {
		if l.Verdict != record.Differs && l.Verdict != record.Unapproved {
			continue
		}
		ok, err := choice.has(l)
		if err != nil {
			return nil, err
		}
		if ok {
			chosen = append(chosen, l)
		}
	}
	if len(chosen) == 0 {
		return nil, fmt.Errorf("run %s has no look to approve that fits", run.Run)
	}
	dir := filepath.Join(runDir, filepath.FromSlash(run.Dir))
	if err := unchanged(dir, run, chosen); err != nil {
		return nil, err
	}
	store, err := golden.Open(filepath.Join(dir, GoldenDir))
	if err != nil {
		return nil, err
	}
	var list []golden.Approval
	for _, l := range chosen {
		file := filepath.Join(runDir, filepath.FromSlash(l.Capture))
		img, err := picture.Read(file)
		if err != nil {
			return nil, err
		}
		if picture.Hash(img) != l.Pixels {
			return nil, fmt.Errorf("%s is not the picture that was captured: it was changed after the run", file)
		}
		saw := l.GoldenPixels
		if saw == "" {
			saw = golden.NoGolden
		}
		list = append(list, golden.Approval{Target: run.Target, Walk: l.Walk, Look: l.Look, Picture: img, Saw: saw,
			Who: who, Why: why, When: now, Run: run.Run, Device: run.Device.Device, Build: run.Device.Build, Library: run.Device.Library})
	}
	if _, err := store.Approve(list); err != nil {
		return nil, err
	}
	return chosen, nil
}

func (c Choice) has(l record.Look) (bool, error) {
	if c.Cause != "" {
		if l.Finding == nil || !slices.Contains(causesOf(l), c.Cause) {
			return false, nil
		}
	}
	if c.Look == "" {
		return true, nil
	}
	walk, err1 := golden.FileName(l.Walk)
	look, err2 := golden.FileName(l.Look)
	if err := errors.Join(err1, err2); err != nil {
		return false, err
	}
	for _, name := range []string{l.Walk + "/" + l.Look, l.Look, walk + "/" + look, look} {
		ok, err := path.Match(c.Look, name)
		if err != nil {
			return false, fmt.Errorf("pattern %q: %w", c.Look, err)
		}
		if ok {
			return true, nil
		}
	}
	return false, nil
}

func causesOf(l record.Look) []string {
	var names []string
	for _, c := range l.Finding.Causes {
		names = append(names, c.Cause)
	}
	for _, r := range l.Finding.Regions {
		names = append(names, r.Cause)
	}
	return names
}

// unchanged checks that the walks of the looks are those that were walked.
func unchanged(dir string, run *record.Run, looks []record.Look) error {
	for _, w := range run.Walks {
		if !slices.ContainsFunc(looks, func(l record.Look) bool { return l.Walk == w.Walk }) {
			continue
		}
		file := filepath.Join(dir, filepath.FromSlash(w.File))
		now, err := hashNow(dir, file, 50)
		if errors.Is(err, os.ErrNotExist) {
			return fmt.Errorf("walk %q is gone: there is no %s any more", w.Walk, file)
		}
		if err != nil {
			return err
		}
		if now != w.Hash {
			return fmt.Errorf("walk %q was changed after the run: run it again, then approve", w.Walk)
		}
	}
	return nil
}
