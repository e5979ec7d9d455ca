// Package whole writes files that appear whole or not at all.
package whole

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
)

// Write replaces the file at path in one step: the bytes go to a temporary file beside it, reach the
// disk, and then take its name. The folder must exist.
//
// renameio would do, but it does not build for Windows, and os.Rename replaces there as it does
// elsewhere.
func Write(path string, data []byte) error {
	return Pour(path, func(w io.Writer) error { _, err := w.Write(data); return err })
}

// Pour is Write for what is made as it is written, so that a large file is never in memory whole. An error that from returns leaves
// the file at path as it is.
func Pour(path string, from func(io.Writer) error) (err error) {
	f, err := tempBeside(path)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			os.Remove(f.Name())
		}
	}()
	out := bufio.NewWriterSize(f, 1<<16)
	if err = from(out); err == nil {
		err = out.Flush()
	}
	if err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// tempBeside creates a file next to path, so that renaming it stays on one disk. Unlike
// os.CreateTemp it leaves the mode to the umask: the file is for others to read, too.
func tempBeside(path string) (*os.File, error) {
	dir, base := filepath.Split(path)
	for range 100 {
		name := fmt.Sprintf("%s.%s.%08x", dir, base, rand.Uint32())
		f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		if !errors.Is(err, fs.ErrExist) {
			return f, err
		}
	}
	return nil, errors.New("no free name for a temporary file")
}
