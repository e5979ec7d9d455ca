package suites_test

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/desktest"
)

var now = desktest.Started.Add(time.Hour)

// faultyFS is the folder on disk whose writing calls fail as fail says.
type faultyFS struct {
	golden.FS
	step int
	fail func(step int, call string) error
}

func (f *faultyFS) try(call string, do func() error) error {
	f.step++
	if err := f.fail(f.step, call); err != nil {
		return err
	}
	return do()
}

func (f *faultyFS) Mkdir(name string) error {
	return f.try("mkdir", func() error { return f.FS.Mkdir(name) })
}
func (f *faultyFS) Rename(a, b string) error {
	return f.try("rename", func() error { return f.FS.Rename(a, b) })
}
func (f *faultyFS) Remove(name string) error {
	return f.try("remove", func() error { return f.FS.Remove(name) })
}
func (f *faultyFS) SyncDir(name string) error {
	return f.try("syncdir", func() error { return f.FS.SyncDir(name) })
}
func (f *faultyFS) Create(name string) (out golden.File, err error) {
	err = f.try("create", func() error {
		file, err := f.FS.Create(name)
		out = &faultyFile{file, f}
		return err
	})
	return out, err
}

type faultyFile struct {
	golden.File
	fs *faultyFS
}

func (f *faultyFile) Write(p []byte) (n int, err error) {
	f.fs.step++
	if err := f.fs.fail(f.fs.step, "write"); err != nil {
		n, _ = f.File.Write(p[:len(p)/2])
		return n, err
	}
	return f.File.Write(p)
}
func (f *faultyFile) Sync() error { return f.fs.try("sync", f.File.Sync) }

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

// An approval of twenty looks stops at every write, sync and rename.
func TestApprovalStops(t *testing.T) {
	dir := t.TempDir()
	runDir := desktest.Make(t, dir, 24)
	again := restore(t, dir)
	approve := func(fail func(int, string) error) (int, error) {
		f := &faultyFS{FS: golden.Dir(filepath.Join(dir, "golden")), fail: fail}
		d, err := suites.OpenDesk(runDir, golden.New(f, "golden"))
		if err != nil {
			t.Fatal(err)
		}
		_, err = d.Approve(twenty(d), "Ada", "new lamps", now)
		return f.step, err
	}
	kinds := map[string]int{}
	total, err := approve(func(_ int, call string) error { kinds[call]++; return nil })
	if err != nil || !settled(t, runDir, "undisturbed") {
		t.Fatal(err)
	}
	t.Logf("%d steps: %v", total, kinds)
	each := 3
	if os.Getenv("FASCIA_LONG") != "" {
		each = 1
	}
	effective := 0
	for n := 1; n <= total; n += each {
		if n+each > total {
			n = total // the last steps take effect
		}
		for _, how := range []string{"stopped", "failed once", "disk full"} {
			again()
			when := fmt.Sprintf("%s at step %d of %d", how, n, total)
			_, err := approve(func(step int, call string) error {
				switch {
				case step < n, how == "failed once" && step > n, how == "disk full" && call != "write" && call != "create" && call != "mkdir":
					return nil
				}
				return &fs.PathError{Op: call, Path: "golden", Err: syscall.ENOSPC}
			})
			isNew := settled(t, runDir, when)
			if isNew {
				effective++
			}
			if (err == nil || errors.Is(err, golden.ErrUnfinished)) != isNew {
				t.Fatalf("%s: it was reported as %v, and the new goldens are in force: %v", when, err, isNew)
			}
		}
	}
	if effective == 0 {
		t.Error("no disturbed approval took effect, so the last steps were not tested")
	}
}

// A small disk of its own, mounted where root may; elsewhere TestApprovalStops fills a pretended one.
func mount(t *testing.T, dir, options string) bool {
	if os.Getuid() != 0 || exec.Command("mount", "-t", "tmpfs", "-o", options, "tmpfs", dir).Run() != nil {
		t.Logf("no disk of its own can be mounted here (%s): it wants root with CAP_SYS_ADMIN", options)
		return false
	}
	t.Cleanup(func() { exec.Command("umount", dir).Run() })
	return true
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

// A disk that fills up while twenty looks are approved.
func TestApproveOnFullDisk(t *testing.T) {
	dir := t.TempDir()
	if !mount(t, dir, "size=2m") {
		t.SkipNow()
	}
	runDir := desktest.Make(t, dir, 24)
	filler := filepath.Join(dir, "filler")
	var disk syscall.Statfs_t
	if err := syscall.Statfs(dir, &disk); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filler, make([]byte, int64(disk.Bavail)*disk.Bsize-24<<10), 0o666); err != nil {
		t.Fatal(err)
	}
	d, err := suites.OpenDesk(runDir, nil)
	if err != nil {
		t.Fatal(err)
	}
	refused(t, dir, runDir, twenty(d), syscall.ENOSPC, "nothing was approved", "no space left")
	if settled(t, runDir, "full disk") {
		t.Error("new goldens on a full disk")
	}
	if err := os.Remove(filler); err != nil {
		t.Fatal(err)
	}
	if _, err := d.Approve(twenty(d), "Ada", "new lamps", now); err != nil || !settled(t, runDir, "room again") {
		t.Errorf("with room again: %v", err)
	}
}

// A folder that may not be written to.
func TestApproveReadOnly(t *testing.T) {
	dir := t.TempDir()
	mounted := mount(t, dir, "size=4m")
	runDir := desktest.Make(t, dir, 24)
	d, err := suites.OpenDesk(runDir, nil)
	if err != nil {
		t.Fatal(err)
	}
	switch {
	case mounted:
		if out, err := exec.Command("mount", "-o", "remount,ro", dir).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		refused(t, dir, runDir, twenty(d), syscall.EROFS, "read-only")
	case os.Getuid() != 0:
		for _, sub := range []string{"golden/.store", "golden/" + desktest.Target + "/walk-0", "golden/" + desktest.Target, "golden"} {
			at := filepath.Join(dir, sub)
			if err := os.Chmod(at, 0o555); err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { os.Chmod(at, 0o777) })
		}
		refused(t, dir, runDir, twenty(d), fs.ErrPermission, "permission denied")
	default: // root may write everywhere
		f := &faultyFS{FS: golden.Dir(filepath.Join(dir, "golden")), fail: func(int, string) error { return syscall.EROFS }}
		if d, err = suites.OpenDesk(runDir, golden.New(f, "golden")); err != nil {
			t.Fatal(err)
		}
		if _, err := d.Approve(twenty(d), "Ada", "new lamps", now); !errors.Is(err, syscall.EROFS) {
			t.Errorf("approved: %v", err)
		}
	}
	if s, err := golden.Open(filepath.Join(dir, "golden")); err != nil {
		t.Error(err)
	} else if r, err := s.Check(); err != nil || !r.Clean() {
		t.Errorf("check: %+v, %v", r.Problems, err)
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
