package author

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"github.com/fascia-bench/fascia/golden"
)

// Facts are what could be found out about a firmware's repository. Only Name has to be known.
type Facts struct {
	Name string // of the product
	// Root is the repository's top folder and Prefix the way from there to the bench's folder, with
	// slashes and empty for the top itself; Root is empty where there is no git.
	Root, Prefix string
	Link         string   // as bench.yaml has it; empty where no device was found
	Others       []string // links that it might be as well
	Width        int      // of the panel; 0 where the device could not be asked
	Height       int
	Format       string
	Clock        bool // the device's clock can be set, or nobody knows
}

// A Done is what became of one file.
type Done struct {
	File string // relative to the bench's folder
	// What is "wrote", "added to", or "kept" where it was there and needed nothing.
	What string
}

// Init writes bench.yaml, a first walk, a workflow and git's lines into the folder dir. A file that is
// there is never written over; git's files get the lines that they miss. What was done so far is returned
// with an error too.
func Init(dir string, f Facts) ([]Done, error) {
	bench, err := benchFile(f)
	if err != nil {
		return nil, err
	}
	type file struct{ name, text string }
	files := []file{{"bench.yaml", bench}, {"walks/start.yaml", startWalk(f)}}
	if f.Root != "" {
		files = append(files, file{path.Join(upFrom(f.Prefix), ".github/workflows/fascia.yml"), workflow(f)})
	}
	var done []Done
	for _, w := range files {
		what, err := create(filepath.Join(dir, filepath.FromSlash(w.name)), w.text)
		if err != nil {
			return done, err
		}
		done = append(done, Done{w.name, what})
	}
	for _, w := range []struct{ name, lines string }{{".gitattributes", golden.GitAttributes}, {".gitignore", "runs/\n"}} {
		what, err := addLines(filepath.Join(dir, w.name), w.lines)
		if err != nil {
			return done, err
		}
		done = append(done, Done{w.name, what})
	}
	return done, nil
}

// upFrom leads from a folder to the repository's top.
func upFrom(prefix string) string {
	if prefix == "" {
		return ""
	}
	return strings.Repeat("../", strings.Count(strings.TrimSuffix(prefix, "/"), "/")+1)
}

// create writes a file that is not there yet.
func create(file, text string) (string, error) {
	if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
		return "", fmt.Errorf("make the folder of %s: %w", file, err)
	}
	w, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666)
	if errors.Is(err, fs.ErrExist) {
		return "kept", nil
	}
	if err != nil {
		return "", fmt.Errorf("write a new file: %w", err)
	}
	_, err = w.WriteString(text)
	if err := errors.Join(err, w.Close()); err != nil {
		return "", fmt.Errorf("write %s: %w", file, err)
	}
	return "wrote", nil
}

// addLines appends those lines that a file does not have.
func addLines(file, lines string) (string, error) {
	old, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		return create(file, lines)
	}
	if err != nil {
		return "", fmt.Errorf("read %s: %w", file, err)
	}
	have := map[string]bool{}
	for line := range strings.Lines(string(old)) {
		have[strings.TrimSpace(line)] = true
	}
	add := ""
	for line := range strings.Lines(lines) {
		if !have[strings.TrimSpace(line)] {
			add += line
		}
	}
	if add == "" {
		return "kept", nil
	}
	if len(old) > 0 && old[len(old)-1] != '\n' {
		add = "\n" + add
	}
	w, err := os.OpenFile(file, os.O_WRONLY|os.O_APPEND, 0)
	if err != nil {
		return "", fmt.Errorf("add lines to a file: %w", err)
	}
	_, err = w.WriteString(add)
	if err := errors.Join(err, w.Close()); err != nil {
		return "", fmt.Errorf("add lines to %s: %w", file, err)
	}
	return "added to", nil
}

func benchFile(f Facts) (string, error) {
	slug, err := golden.FileName(f.Name)
	if err != nil {
		return "", fmt.Errorf("name the bench: %w", err)
	}
	target := slug
	if f.Width > 0 {
		target = fmt.Sprintf("%s-%d", slug, f.Width)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "# One device with its link; paths are relative to this file.\nbench: %s\n", scalar(slug+"-1"))
	fmt.Fprintf(&b, "target: %s   # the kind of device: its screens share goldens\ndevice:\n", scalar(target))
	if f.Link == "" {
		b.WriteString("  # No serial port and no twin was found: write which port the device is on (fascia bench ports).\n" +
			"  link: serial:/dev/ttyUSB0?baud=115200\n")
	} else {
		fmt.Fprintf(&b, "  link: %s\n", scalar(f.Link))
	}
	for _, o := range f.Others {
		fmt.Fprintf(&b, "  # or: %s\n", o)
	}
	if f.Root != "" && !strings.HasPrefix(f.Link, "twin:") {
		b.WriteString("  # expect: {build: git describe --always --dirty}   # what the device must say that it runs\n")
	}
	if f.Width > 0 {
		fmt.Fprintf(&b, "panel: {width: %d, height: %d, format: %s}\n", f.Width, f.Height, f.Format)
	}
	return b.String(), nil
}

func startWalk(f Facts) string {
	clock := "  - clock: 2031-05-04T09:30:00   # the device's own clock, held; take this out if it has none\n"
	if !f.Clock {
		clock = "" // it was asked, and cannot
	}
	return `# A walk begins with the device just started. fascia record writes others while you operate it.
walk: start
steps:
` + clock + `  - look: first screen           # waits until the screen is still
`
}

// workflow is a CI job. A twin runs anywhere; a board needs a machine of one's own.
func workflow(f Facts) string {
	runner := "ubuntu-latest"
	head := "# Walks the device's twin through its screens at every push.\n"
	trigger := "on: [push, pull_request]\n"
	if !strings.HasPrefix(f.Link, "twin:") {
		runner = "[self-hosted, fascia]"
		head = "# Walks the board on a machine of your own, which has the label fascia. Not for pull requests: a fork's code\n" +
			"# would run on that machine.\n"
		trigger = "on: push\n"
	}
	dir := f.Prefix
	if dir == "" {
		dir = "./"
	}
	return head + `name: fascia
` + trigger + `permissions:
  contents: read
jobs:
  screens:
    runs-on: ` + runner + `
    defaults:
      run:
        working-directory: ` + scalar(dir) + `
    steps:
      - uses: actions/checkout@v4
      - uses: actions/setup-go@v5
        with:
          go-version: "1.26"
      - run: go install github.com/fascia-bench/fascia/cmd/fascia@latest
      # - run: make twin   # build what bench.yaml names, if it is not committed
      - run: fascia run
      - uses: actions/upload-artifact@v4
        if: always()
        with:
          name: fascia-run
          path: ` + scalar(path.Join(dir, "runs")) + `
`
}
