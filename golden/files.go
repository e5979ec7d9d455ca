package golden

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"github.com/gofrs/flock"
)

// LockWait is how long an approval waits for another process to finish its own.
const LockWait = 30 * time.Second

// FS is the folder that a Store works on. Names are slash-separated and relative to it, "." is the
// folder itself. Errors for what is not there are fs.ErrNotExist. [Dir] is the one on disk; tests pass
// others, to see what becomes of an approval when a call fails or the machine stops.
type FS interface {
	ReadFile(name string) ([]byte, error)
	ReadDir(name string) ([]fs.DirEntry, error)
	Lstat(name string) (fs.FileInfo, error)
	// Mkdir makes one folder, whose parent exists.
	Mkdir(name string) error
	// Create opens an empty file for writing, in place of any of that name.
	Create(name string) (File, error)
	// Rename replaces newname in one step.
	Rename(oldname, newname string) error
	Remove(name string) error
	// SyncDir returns once the entries of a folder (not the content of its files) are on disk.
	SyncDir(name string) error
	// Lock makes the folder if there is none, and keeps others from writing to it until unlock.
	Lock() (unlock func(), err error)
}

// File is a file being written.
type File interface {
	io.Writer
	// Sync returns once what was written is on disk.
	Sync() error
	Close() error
}

// Dir returns the folder at path on disk. Nothing outside it is reached, not through links either.
func Dir(path string) FS { return dir(path) }

type dir string

// inside runs f within the folder. os.Root refuses paths and links that lead out of it.
func (d dir) inside(f func(*os.Root) error) error {
	root, err := os.OpenRoot(string(d))
	if err != nil {
		return err
	}
	defer root.Close()
	return f(root)
}

func (d dir) ReadFile(name string) (out []byte, err error) {
	err = d.inside(func(r *os.Root) error { out, err = r.ReadFile(name); return err })
	return out, err
}

func (d dir) ReadDir(name string) (out []fs.DirEntry, err error) {
	err = d.inside(func(r *os.Root) error { out, err = fs.ReadDir(r.FS(), name); return err })
	return out, err
}

func (d dir) Lstat(name string) (out fs.FileInfo, err error) {
	err = d.inside(func(r *os.Root) error { out, err = r.Lstat(name); return err })
	return out, err
}

func (d dir) Mkdir(name string) error {
	return d.inside(func(r *os.Root) error { return r.Mkdir(name, 0o777) })
}

func (d dir) Create(name string) (out File, err error) {
	err = d.inside(func(r *os.Root) error {
		// Never write through a link that somebody put where the file should be.
		if err := r.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		f, err := r.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		out = f
		return err
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

func (d dir) Rename(oldname, newname string) error {
	return d.inside(func(r *os.Root) error { return r.Rename(oldname, newname) })
}

func (d dir) Remove(name string) error {
	return d.inside(func(r *os.Root) error { return r.Remove(name) })
}

func (d dir) SyncDir(name string) error {
	if runtime.GOOS == "windows" { // has no such call; its file system journals entries
		return nil
	}
	return d.inside(func(r *os.Root) error {
		f, err := r.Open(name)
		if err != nil {
			return err
		}
		defer f.Close()
		return f.Sync()
	})
}

// Lock takes the lock file in .store, a folder that tells git to leave it alone. The file stays: to
// remove it would let two processes hold locks on two files of one name.
func (d dir) Lock() (func(), error) {
	store := filepath.Join(string(d), ".store")
	if err := d.makeStore(store); err != nil {
		return nil, fmt.Errorf("prepare golden folder: %w", err)
	}
	l := flock.New(filepath.Join(store, "lock"), flock.SetPermissions(0o666))
	ctx, cancel := context.WithTimeout(context.Background(), LockWait)
	defer cancel()
	ok, err := l.TryLockContext(ctx, 5*time.Millisecond)
	if errors.Is(err, context.DeadlineExceeded) || err == nil && !ok {
		return nil, fmt.Errorf("%q: another process has been approving for %v: %w", l.Path(), LockWait, ErrLocked)
	}
	if err != nil {
		return nil, fmt.Errorf("lock golden folder: %w", err)
	}
	return func() { l.Unlock() }, nil
}

func (d dir) makeStore(store string) error {
	if info, err := os.Lstat(store); err == nil {
		if info.Mode()&fs.ModeSymlink != 0 {
			return fmt.Errorf("%q: %w", store, ErrLink)
		}
		return nil
	}
	if err := os.MkdirAll(store, 0o777); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(store, ".gitignore"), []byte("*\n"), 0o666); err != nil {
		return err
	}
	if runtime.GOOS == "windows" {
		return nil
	}
	for _, made := range []string{string(d), filepath.Dir(filepath.Clean(string(d)))} {
		if f, err := os.Open(made); err == nil {
			f.Sync() // the folder itself is new: put its entry on disk
			f.Close()
		}
	}
	return nil
}
