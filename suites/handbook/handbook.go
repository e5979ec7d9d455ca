// Package handbook makes an illustrated guide to a device's user interface from what is kept anyway: the
// approved goldens are its pictures, the walks say how one gets from screen to screen. So it is never out of
// date: a screen that changed is in it once somebody approved the change.
//
// A guide is a folder: pages in HTML without scripts, the same as one Markdown file, the map of screens as SVG,
// and the pictures. It opens from a file system as it does from a server.
//
// Which screen a look belongs to: what the look says (screen: NAME), else the last line `screen NAME` that the
// walk expects in the firmware's log, else the look is a screen of its own. The language of a look is what it
// says itself (language: de), else the last language fed or expected in the log.
package handbook

import (
	"errors"
	"fmt"
	"image"
	"os"
	"path"
	"path/filepath"
	"strings"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/record"
)

// A Book is the guide before it is written.
type Book struct {
	Title     string
	Targets   []string
	Languages []string // "" is the language that the device starts in
	Screens   []*Screen
	Ways      []*Way
	Views     []*View
}

// A Screen is what a user takes for one place of the interface.
type Screen struct {
	Name, Slug string
	Views      []*View
	Out, In    []*Way

	inputs []record.Input // given while it was shown
}

// A View is a look at a screen.
type View struct {
	ID         string
	Walk, Look string
	File       string // of its picture, within a target's folder
	Note       string
	Language   string
	Screen     *Screen
	// Before is the view before it, nil after power-on; Path leads from there.
	Before   *View
	Path     []record.Input
	Pictures []Picture
	Ways     []*Way // that lead on from this very view
}

// A Picture is a view's golden on one target.
type Picture struct {
	Target string
	Path   string // within the guide's folder; empty where nothing was approved
	Size   image.Point
	Entry  golden.Entry
	img    image.Image
}

// A Way leads from one screen to another; From is nil for power-on.
type Way struct {
	From, To *Screen
	At       *View // in which it was taken; nil for power-on, and where no walk looked
	Inputs   []record.Input
}

// Read collects the guide from the walks of a bench and the goldens of its targets: its own, and those further
// ones that the store has.
func Read(p *suites.Plan, title string) (*Book, error) {
	b := &Book{Title: title, Targets: []string{p.Bench.Target}}
	if b.Title == "" {
		b.Title = p.Bench.Target
	}
	all, err := p.Store.Goldens()
	if err != nil {
		return nil, err
	}
	for _, e := range all {
		b.addTarget(e.Target)
	}
	c := newCollector(b)
	for _, w := range p.Walks {
		if _, err := c.walk(w); err != nil {
			return nil, err
		}
	}
	if len(b.Views) == 0 {
		return nil, errors.New("no walk has a look, so there is nothing to show")
	}
	c.sort()
	approved := 0
	for _, v := range b.Views {
		for _, t := range b.Targets {
			pic := Picture{Target: t}
			img, e, err := p.Store.Get(t, v.Walk, v.Look)
			switch {
			case errors.Is(err, golden.ErrNoGolden):
			case err != nil:
				return nil, err
			default:
				approved++
				folder, err := golden.FileName(t)
				if err != nil {
					return nil, err
				}
				pic.Path = path.Join("pictures", folder, v.File)
				pic.img, pic.Size, pic.Entry = img, img.Bounds().Size(), e
			}
			v.Pictures = append(v.Pictures, pic)
		}
	}
	if approved == 0 {
		return nil, errors.New("nothing has been approved yet, so there is no picture to show: walk with fascia run, look, and approve")
	}
	return b, nil
}

func (b *Book) addTarget(name string) {
	for _, t := range b.Targets {
		if a, err := golden.FileName(t); err == nil {
			if c, err := golden.FileName(name); err == nil && a == c {
				return
			}
		}
	}
	b.Targets = append(b.Targets, name)
}

// Names of what a guide's folder holds.
const (
	IndexFile    = "index.html"
	MarkdownFile = "handbook.md"
	MapFile      = "map.svg"
	styleFile    = "handbook.css"
	pictures     = "pictures"
)

// Write writes the guide into a folder, in place of an earlier guide there. A folder that holds anything else
// is left alone.
func (b *Book) Write(dir string) error {
	if err := clear(dir); err != nil {
		return err
	}
	files, err := b.pages()
	if err != nil {
		return err
	}
	files[MarkdownFile] = []byte(b.markdown())
	files[MapFile] = append([]byte(b.drawMap(true)), '\n')
	files[styleFile] = []byte(css)
	for _, v := range b.Views {
		for _, p := range v.Pictures {
			if p.img == nil {
				continue
			}
			file := filepath.Join(dir, filepath.FromSlash(p.Path))
			if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
				return fmt.Errorf("write handbook: %w", err)
			}
			if err := picture.WritePNG(file, p.img); err != nil {
				return fmt.Errorf("write handbook: %w", err)
			}
		}
	}
	for name, data := range files {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o666); err != nil {
			return fmt.Errorf("write handbook: %w", err)
		}
	}
	return nil
}

// clear makes the folder, or takes an earlier guide out of it.
func clear(dir string) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return fmt.Errorf("make the handbook's folder: %w", err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return fmt.Errorf("make the handbook's folder: %w", err)
	}
	if len(entries) == 0 {
		return nil
	}
	if page, err := os.ReadFile(filepath.Join(dir, IndexFile)); err != nil || !strings.Contains(string(page), generator) {
		return fmt.Errorf("%s holds something else than a handbook: name a new folder, or empty this one", dir)
	}
	for _, e := range entries {
		if n := e.Name(); n == pictures || strings.HasSuffix(n, ".html") || n == MarkdownFile || n == MapFile || n == styleFile {
			if err := os.RemoveAll(filepath.Join(dir, n)); err != nil {
				return fmt.Errorf("take out the earlier handbook: %w", err)
			}
		}
	}
	return nil
}
