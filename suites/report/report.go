// Package report turns the record of a run into what others read: a page, a JUnit file, and
// pictures of a trail and of a difference.
//
// The page is one HTML file without scripts that needs nothing beside it: it opens from a file
// system, prints, and can be mailed. A picture that cannot be had is replaced by a box that says
// so; a record that was cut off gives a page that says that. Whatever stands in a record (names,
// sentences, log lines) comes from devices and from strangers' walks and is shown as text.
package report

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"html/template"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"

	"github.com/fascia-bench/fascia/suites/record"
)

// Names of what is written into a run's folder.
const (
	PageFile  = "report.html"
	JUnitFile = "junit.xml"
)

//go:embed page.css
var pageCSS string

//go:embed page.tmpl
var pageText string

var pageTemplate = template.Must(template.New("page").Parse(pageText))

// Page writes report.html into the run's folder. The file appears whole or not at all.
//
// Pictures are read from the folder and from nowhere else: a path that leads out of it counts as
// a picture that is missing.
func Page(runDir string, run *record.Run) error {
	path := filepath.Join(runDir, PageFile)
	root, err := os.OpenRoot(runDir)
	if err != nil {
		return fmt.Errorf("write report %q: %w", path, err)
	}
	defer root.Close()
	var out bytes.Buffer
	if err := pageTemplate.Execute(&out, newPage(newShelf(root), run)); err != nil {
		return fmt.Errorf("write report %q: %w", path, err)
	}
	if err := writeWhole(path, out.Bytes()); err != nil {
		return fmt.Errorf("write report %q: %w", path, err)
	}
	return nil
}

// writeWhole replaces the file at path in one step: a reader sees the old file or the new one.
func writeWhole(path string, data []byte) (err error) {
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
// os.CreateTemp it leaves the mode to the umask: a report is for others to read.
func tempBeside(path string) (*os.File, error) {
	dir, base := filepath.Split(path)
	for range 100 {
		f, err := os.OpenFile(fmt.Sprintf("%s.%s.%08x", dir, base, rand.Uint32()), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
		if !errors.Is(err, fs.ErrExist) {
			return f, err
		}
	}
	return nil, errors.New("no free name for a temporary file")
}
