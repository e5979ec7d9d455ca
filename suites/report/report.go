// Package report turns the record of a run into what others read: a page, a JUnit file, and
// pictures of a trail and of a difference.
//
// The page is one HTML file without scripts that needs nothing beside it: it opens from a file
// system, prints, and can be mailed. A picture that cannot be had is replaced by a box that says
// so; a record that was cut off gives a page that says that. Whatever stands in a record (names,
// sentences, log lines) comes from devices and from strangers' walks and is shown as text.
package report

import (
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"os"
	"path/filepath"

	"github.com/fascia-bench/fascia/capture/picture/whole"
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
	pictures := newShelf(root)
	pictures.readAhead(run.Looks)
	page := newPage(pictures, run)
	if err := whole.Pour(path, func(w io.Writer) error { return pageTemplate.Execute(w, page) }); err != nil {
		return fmt.Errorf("write report %q: %w", path, err)
	}
	return nil
}
