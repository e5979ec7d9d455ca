package suites_test

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/desktest"
)

var now = desktest.Started.Add(time.Hour)

// twenty wants twenty looks of a run of 24: whole ones, and regions that complete nothing.
func twenty(d *suites.Desk) []suites.Want {
	var out []suites.Want
	for i := range 20 {
		w := suites.Want{Look: i}
		if d.Run.Looks[i].Finding != nil && i%2 == 0 {
			w.Regions = []int{0}
		}
		out = append(out, w)
	}
	return out
}

// inForce tells whether all that twenty wants is approved, or none; anything between is a failure.
func inForce(t *testing.T, runDir, when string) bool {
	t.Helper()
	d, err := suites.OpenDesk(runDir, nil)
	if err != nil {
		t.Fatal(err)
	}
	standings, err := d.Standings()
	if err != nil {
		t.Fatalf("%s: %v", when, err)
	}
	store, err := golden.Open(filepath.Join(runDir, "../../golden"))
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, w := range twenty(d) {
		l, s := d.Run.Looks[w.Look], standings[w.Look]
		_, e, err := store.Get(d.Run.Target, l.Walk, l.Look)
		switch {
		case errors.Is(err, golden.ErrNoGolden) && l.Finding == nil:
		case err != nil:
			t.Fatalf("%s: look %d has neither its old nor its new golden: %v", when, w.Look, err)
		case len(w.Regions) > 0 && len(s.Regions) == 1 && e.SHA256 == l.GoldenPixels, len(w.Regions) == 0 && e.SHA256 == l.Pixels:
			n++
		case e.SHA256 != l.GoldenPixels:
			t.Fatalf("%s: look %d has a golden of neither", when, w.Look)
		}
	}
	if n != 0 && n != 20 {
		t.Fatalf("%s: %d of 20 took effect", when, n)
	}
	return n == 20
}

// settled asserts that the store is clean, at most after Repair, and that this changed no golden.
func settled(t *testing.T, runDir, when string) bool {
	t.Helper()
	was := inForce(t, runDir, when)
	s, err := golden.Open(filepath.Join(runDir, "../../golden"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Repair(); err != nil {
		t.Fatalf("%s: repair: %v", when, err)
	}
	if r, err := s.Check(); err != nil || !r.Clean() {
		t.Fatalf("%s: %+v, %v", when, r.Problems, err)
	}
	if inForce(t, runDir, when+", repaired") != was {
		t.Fatalf("%s: repair exchanged goldens", when)
	}
	return was
}

// restore returns a function that puts the golden folder back as it was.
func restore(t *testing.T, dir string) func() {
	t.Helper()
	kept := filepath.Join(t.TempDir(), "golden")
	copyTo := func(from, to string) {
		if err := errors.Join(os.RemoveAll(to), os.CopyFS(to, os.DirFS(from))); err != nil {
			t.Fatal(err)
		}
	}
	at := filepath.Join(dir, "golden")
	copyTo(at, kept)
	return func() { copyTo(kept, at) }
}

// refused asserts that an approval fails with a clear error and changes nothing.
func refused(t *testing.T, dir, runDir string, wants []suites.Want, is error, says ...string) {
	t.Helper()
	ledger := filepath.Join(dir, "golden", "ledger.jsonl")
	was, err := os.ReadFile(ledger)
	if err != nil {
		t.Fatal(err)
	}
	d, err := suites.OpenDesk(runDir, nil)
	if err != nil {
		t.Fatal(err)
	}
	_, err = d.Approve(wants, "Ada", "new lamps", now)
	if err == nil || is != nil && !errors.Is(err, is) {
		t.Errorf("approved, or refused for another reason: %v", err)
		return
	}
	for _, s := range says {
		if !strings.Contains(err.Error(), s) {
			t.Errorf("the error %q does not say %q", err, s)
		}
	}
	if after, err := os.ReadFile(ledger); err != nil || string(after) != string(was) {
		t.Errorf("the ledger was changed: %v", err)
	}
}

// What must not be approved is refused as a whole, with a clear error.
func TestApproveRefused(t *testing.T) {
	made := func(t *testing.T) (dir, runDir string, d *suites.Desk) {
		dir = t.TempDir()
		runDir = desktest.Make(t, dir, 12)
		d, err := suites.OpenDesk(runDir, nil)
		if err != nil {
			t.Fatal(err)
		}
		return dir, runDir, d
	}
	all := []suites.Want{{Look: 0}, {Look: 1}, {Look: 2}, {Look: 3}}
	t.Run("symlinked golden", func(t *testing.T) {
		dir, runDir, d := made(t)
		at := filepath.Join(dir, "golden", desktest.Target, "walk-0", "look-0.png")
		other := filepath.Join(dir, "other.png")
		if err := errors.Join(os.Rename(at, other), os.Symlink(other, at)); err != nil {
			t.Fatal(err)
		}
		refused(t, dir, runDir, all, golden.ErrLink, "look-0.png")
		if d.Run.Looks[0].Look != "look 0" {
			t.Fatal("another look was linked")
		}
	})
	t.Run("golden newer than the run", func(t *testing.T) {
		dir, runDir, d := made(t)
		s, err := golden.Open(filepath.Join(dir, "golden"))
		if err != nil {
			t.Fatal(err)
		}
		l := d.Run.Looks[1]
		if _, err := s.Approve([]golden.Approval{{Target: desktest.Target, Walk: l.Walk, Look: l.Look, Picture: desktest.Capture(900), Who: "Grace", Why: "newer", When: now}}); err != nil {
			t.Fatal(err)
		}
		refused(t, dir, runDir, all, golden.ErrStale, l.Look)
		st, err := d.Standings()
		if err != nil || !st[1].Stale || st[0].Stale {
			t.Errorf("standings: %+v, %v", st, err)
		}
	})
	t.Run("capture edited", func(t *testing.T) {
		dir, runDir, d := made(t)
		other, err := os.ReadFile(filepath.Join(runDir, d.Run.Looks[3].Capture))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(runDir, d.Run.Looks[1].Capture), other, 0o666); err != nil {
			t.Fatal(err)
		}
		refused(t, dir, runDir, all, nil, "changed after the run", "look-")
	})
	t.Run("capture gone", func(t *testing.T) {
		dir, runDir, d := made(t)
		if err := os.Remove(filepath.Join(runDir, d.Run.Looks[1].Capture)); err != nil {
			t.Fatal(err)
		}
		refused(t, dir, runDir, all, fs.ErrNotExist, d.Run.Looks[1].Capture)
	})
	t.Run("walk edited", func(t *testing.T) {
		dir, runDir, d := made(t)
		if err := os.WriteFile(filepath.Join(dir, "walks", "walk-0.yaml"), []byte("walk: walk 0\nsteps:\n  - look: look 0\n"), 0o666); err != nil {
			t.Fatal(err)
		}
		refused(t, dir, runDir, all, nil, `walk "walk 0" was changed after the run`)
		if why := d.WalkChanged()["walk 0"]; why == "" || len(d.WalkChanged()) != 1 {
			t.Errorf("changed are %v", d.WalkChanged())
		}
	})
	t.Run("look without capture", func(t *testing.T) {
		dir, runDir, _ := made(t)
		file := filepath.Join(runDir, "run.json")
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(strings.Replace(string(data), `"verdict": "differs"`, `"verdict": "no-capture"`, 1)), 0o666); err != nil {
			t.Fatal(err)
		}
		refused(t, dir, runDir, all, nil, "is no-capture")
	})
}

// Regions of a look make it the golden once all are approved, whatever the order.
func TestRegionsBecomeWhole(t *testing.T) {
	dir := t.TempDir()
	runDir := desktest.Make(t, dir, 4)
	d, err := suites.OpenDesk(runDir, nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []struct{ asked, deed int }{{1, 1}, {1, -1}, {0, 0}} {
		deeds, err := d.Approve([]suites.Want{{Look: 0, Regions: []int{want.asked}}}, "Ada", "lamp", now)
		if err != nil {
			t.Fatal(err)
		}
		if want.deed < 0 {
			if len(deeds) != 0 {
				t.Errorf("approved twice: %+v", deeds)
			}
			continue
		}
		if len(deeds) != 1 || len(deeds[0].Regions) != want.deed {
			t.Errorf("step %d: %+v, want %d regions", i, deeds, want.deed)
		}
	}
	if st, err := d.Standings(); err != nil || !st[0].Approved {
		t.Errorf("standing: %+v, %v", st[0], err)
	}
}
