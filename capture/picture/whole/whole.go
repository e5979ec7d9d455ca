// Package whole writes files that appear whole or not at all.
package whole

import (
	"errors"
	"fmt"
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
func Write(path string, data []byte) (err error) {
	f, err := tempBeside(path)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			os.Remove(f.Name())
		}
	}()
	_, err = f.Write(data)
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
