package align

import (
	"errors"
	"fmt"
	"image"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare/photo"
)

// shownSuffix ends the name of the picture that a trial showed, kept beside its photo where it is a screen of the
// device's own and so cannot be made again.
const shownSuffix = ".shown.png"

// keep writes a pattern's photo into a folder, as Photos reads it. The folder may hold an earlier alignment's.
func keep(p photo.Pattern, shot image.Image, dir string) error {
	if p.Kind() == "trial" {
		shown := filepath.Join(dir, p.Name+shownSuffix)
		if err := os.Remove(shown); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		if p.Own {
			if err := picture.WritePNG(shown, p.Image); err != nil {
				return err
			}
		}
	}
	return picture.WritePNG(filepath.Join(dir, p.Name+".png"), shot)
}

// readShown reads the device's own screens that the first trials showed.
func readShown(patterns []photo.Pattern, dir string) (own []image.Image, err error) {
	for _, p := range patterns {
		if p.Kind() != "trial" {
			continue
		}
		path := filepath.Join(dir, p.Name+shownSuffix)
		if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
			return own, nil
		}
		m, err := picture.Read(path)
		if err != nil {
			return nil, err
		}
		if got, want := m.Bounds().Size(), p.Image.Bounds().Size(); got != want {
			return nil, fmt.Errorf("%s is %dx%d, the panel %dx%d", path, got.X, got.Y, want.X, want.Y)
		}
		own = append(own, m)
	}
	return own, nil
}
