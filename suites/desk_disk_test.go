package suites_test

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/desktest"
)

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
