// Package suites walks a device through its user interface and holds each look against its golden.
//
// A walk is a YAML file of steps (walk.go, parse.go, step.go). Everything that can be wrong with a
// walk is found before anything runs, and told with file, line and column (check.go). A run is a
// child process in which every look is a Ginkgo spec (specs.go) and which streams what happens to
// its parent (run.go), which keeps the record.
package suites

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/bench/yamlfile"
	"github.com/fascia-bench/fascia/golden"
)

// A Walk is a scripted path through the user interface.
type Walk struct {
	Name string
	Slug string // its name as a file name
	File string // path of its file
	Hash string // SHA-256 of the file, of those it takes in, and of those it starts from
	// From is walked first; nil where the walk starts from a device just reset.
	From   *Walk
	Labels []string
	Areas  map[string]image.Rectangle
	Steps  []Step

	nameAt yamlfile.Place
	areaAt map[string]yamlfile.Place
	looks  map[string]named // by file name

	commands map[string]string // of the bench, which exec may call
	sources  [][]byte          // of the file and those it takes in
}

// named is a look's name and where it stands.
type named struct {
	name string
	at   yamlfile.Place
}

// newWalk is a walk to be read from a file.
func newWalk(file string, commands map[string]string) *Walk {
	return &Walk{File: file, commands: commands, Areas: map[string]image.Rectangle{}, areaAt: map[string]yamlfile.Place{}, looks: map[string]named{}}
}

// Looks returns the walk's looks in order, without those of the walk it starts from.
func (w *Walk) Looks() []TakeLook {
	var looks []TakeLook
	for _, s := range w.Steps {
		if l, ok := s.Do.(TakeLook); ok {
			looks = append(looks, l)
		}
	}
	return looks
}

func (w *Walk) addLook(l TakeLook, at yamlfile.Node) error {
	if first, twice := w.looks[l.File]; twice {
		if first.name == l.Name {
			return at.Errorf("look %q stands here a second time: the first is on line %d", l.Name, first.at.Line())
		}
		return at.Errorf("looks %q and %q (line %d) would share the file name %s.png", l.Name, first.name, first.at.Line(), l.File)
	}
	w.looks[l.File] = named{l.Name, at.Place()}
	return nil
}

// A reader reads walks and remembers them, since several may start from one.
type reader struct {
	root     string            // folder that walks may not leave
	commands map[string]string // that exec may call; nil: not known
	walks    map[string]*Walk
	active   []string // files being read, each from the one before
}

func newReader(b *bench.Bench) *reader {
	return &reader{root: b.Dir, commands: b.Commands, walks: map[string]*Walk{}}
}

func (r *reader) read(file string) (*Walk, error) {
	file = filepath.Clean(file)
	if w, ok := r.walks[file]; ok {
		return w, nil
	}
	src, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("read walk: %w", err)
	}
	root, err := yamlfile.Parse(file, src)
	if err != nil {
		return nil, err
	}
	r.active = append(r.active, file)
	defer func() { r.active = r.active[:len(r.active)-1] }()

	w := newWalk(file, r.commands)
	var steps yamlfile.Node
	err = root.Fields(map[string]func(yamlfile.Node) error{
		"walk": func(n yamlfile.Node) (err error) {
			w.nameAt = n.Place()
			if w.Name, err = n.Scalar(); err != nil {
				return err
			}
			if w.Slug, err = golden.FileName(w.Name); err != nil {
				return n.Errorf("%v", err)
			}
			return nil
		},
		"from":   func(n yamlfile.Node) (err error) { w.From, err = r.from(file, n); return err },
		"labels": w.readLabels,
		"areas":  w.readAreas,
		"steps":  func(n yamlfile.Node) error { steps = n; return nil },
	})
	if err != nil {
		return nil, err
	}
	if w.Name == "" {
		return nil, root.Errorf("the walk has no name: write walk: NAME")
	}
	if !steps.Valid() {
		return nil, root.Errorf("the walk has no steps")
	}
	w.sources = append(w.sources, src)
	if err := w.readSteps(r, steps); err != nil { // last, since looks refer to areas
		return nil, err
	}
	h := sha256.New()
	for _, src := range w.sources {
		h.Write(src)
	}
	if w.From != nil {
		h.Write([]byte(w.From.Hash))
	}
	w.Hash = hex.EncodeToString(h.Sum(nil))
	r.walks[file] = w
	return w, nil
}

// hashNow is the hash of a walk's file as it is now. What the bench offers does not matter to it.
func hashNow(root, file string, _ int) (string, error) {
	w, err := (&reader{root: root, walks: map[string]*Walk{}}).read(file)
	if err != nil {
		return "", err
	}
	return w.Hash, nil
}

// from reads the walk that another starts from.
func (r *reader) from(file string, n yamlfile.Node) (*Walk, error) {
	path, err := r.beside(file, n)
	if err != nil {
		return nil, err
	}
	w, err := r.read(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, n.Errorf("there is no walk %s", path)
	}
	return w, err
}

// beside resolves a path written in a file. It may lead neither out of the bench's folder nor back to a
// file that is being read.
func (r *reader) beside(file string, n yamlfile.Node) (string, error) {
	text, err := n.Scalar()
	if err != nil {
		return "", err
	}
	path := filepath.Join(filepath.Dir(file), filepath.FromSlash(text))
	if filepath.IsAbs(filepath.FromSlash(text)) || !inside(r.root, path) {
		return "", n.Errorf("%q leads out of the folder %s", text, r.root)
	}
	if i := slices.Index(r.active, path); i >= 0 {
		return "", n.Errorf("the walk starts from itself: %s", strings.Join(append(slices.Clone(r.active[i:]), path), " from "))
	}
	return path, nil
}

// inside reports whether path lies in root.
func inside(root, path string) bool {
	rel, err := filepath.Rel(root, path)
	return err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator))
}
