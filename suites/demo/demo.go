// Package demo holds the demo device, the Fernhouse mist controller of an invented plant nursery:
// its firmware as twins, the walks through its screens and their approved goldens.
//
// Its firmware's source is in the folder firmware; nothing here is a real product.
package demo

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Files are the demo's bench files, walks, goldens and twins, as they stand in this folder.
//
//go:embed bench.yaml bench-draw-2.yaml lint.yaml return.yaml open-about.yaml hands.yaml walks walks-camera golden fernhouse-draw-1.wasm fernhouse-draw-2.wasm
var Files embed.FS

// BenchFile and UpgradeFile are the bench of the firmware as approved, and of the same firmware drawn
// by the upgraded drawing layer.
const (
	BenchFile   = "bench.yaml"
	UpgradeFile = "bench-draw-2.yaml"
)

// CameraWalks is the folder of walks that need a camera, so that a bench which has none walks all of the others.
const CameraWalks = "walks-camera"

// Twin returns the built-in device: the firmware as approved.
func Twin() ([]byte, error) { return Files.ReadFile("fernhouse-draw-1.wasm") }

// Unpack writes the demo's files into dir, over what an earlier version wrote there; runs stay.
func Unpack(dir string) error {
	for _, old := range []string{"walks", CameraWalks, "golden"} { // else a walk of an earlier version would be walked as well
		if err := removeOwn(filepath.Join(dir, old)); err != nil {
			return err
		}
	}
	return fs.WalkDir(Files, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		to := filepath.Join(dir, filepath.FromSlash(name))
		if d.IsDir() {
			return os.MkdirAll(to, 0o777)
		}
		data, err := Files.ReadFile(name)
		if err != nil {
			return err
		}
		if err := os.WriteFile(to, data, 0o666); err != nil {
			return fmt.Errorf("unpack the demo: %w", err)
		}
		return nil
	})
}

// removeOwn removes a folder of an unpacked demo, and refuses any other.
func removeOwn(folder string) error {
	if _, err := os.Stat(folder); errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if _, err := os.Stat(filepath.Join(filepath.Dir(folder), UpgradeFile)); err != nil {
		return fmt.Errorf("unpack the demo: %s is in the way, and is not of a demo", folder)
	}
	return os.RemoveAll(folder)
}
