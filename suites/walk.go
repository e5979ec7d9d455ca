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
	Hash string // SHA-256 of the file and of those it starts from
	// From is walked first; nil where the walk starts from a device just reset.
	From  *Walk
	Areas map[string]image.Rectangle
	Steps []Step

	nameAt yamlfile.Node
	areaAt map[string]yamlfile.Node
	lookAt map[string]yamlfile.Node // by file name

	commands map[string]string // of the bench, which exec may call
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
	if first, twice := w.lookAt[l.File]; twice {
		if first.Text() == l.Name {
			return at.Errorf("look %q stands here a second time: the first is on line %d", l.Name, first.Line())
		}
		return at.Errorf("looks %q and %q (line %d) would share the file name %s.png", l.Name, first.Text(), first.Line(), l.File)
	}
	w.lookAt[l.File] = at
	return nil
}

// A reader reads walks and remembers them, since several may start from one.
type reader struct {
	root     string            // folder that walks may not leave
	commands map[string]string // that exec may call
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

	w := &Walk{File: file, Areas: map[string]image.Rectangle{}, areaAt: map[string]yamlfile.Node{}, lookAt: map[string]yamlfile.Node{}, commands: r.commands}
	var steps yamlfile.Node
	err = root.Fields(map[string]func(yamlfile.Node) error{
		"walk": func(n yamlfile.Node) (err error) {
			w.nameAt = n
			if w.Name, err = n.Scalar(); err != nil {
				return err
			}
			if w.Slug, err = golden.FileName(w.Name); err != nil {
				return n.Errorf("%v", err)
			}
			return nil
		},
		"from":  func(n yamlfile.Node) (err error) { w.From, err = r.from(file, n); return err },
		"areas": w.readAreas,
		"steps": func(n yamlfile.Node) error { steps = n; return nil },
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
	items, err := steps.List() // read last, since looks refer to areas
	if err != nil {
		return nil, err
	}
	for _, item := range items {
		s, err := w.readStep(item)
		if err != nil {
			return nil, err
		}
		w.Steps = append(w.Steps, s)
	}
	w.Hash = hashWalk(src, w.From)
	r.walks[file] = w
	return w, nil
}

// hashWalk is the SHA-256 of a walk's file and the hash of the walk it starts from.
func hashWalk(src []byte, from *Walk) string {
	h := sha256.New()
	h.Write(src)
	if from != nil {
		h.Write([]byte(from.Hash))
	}
	return hex.EncodeToString(h.Sum(nil))
}

// hashNow is the hash of a walk's file as it is now, without reading its steps.
func hashNow(root, file string, depth int) (string, error) {
	src, err := os.ReadFile(file)
	if err != nil {
		return "", err
	}
	n, err := yamlfile.Parse(file, src)
	if err != nil {
		return "", err
	}
	pairs, err := n.Map()
	if err != nil {
		return "", err
	}
	var from *Walk
	for _, p := range pairs {
		if p.Key.Text() != "from" {
			continue
		}
		next := filepath.Join(filepath.Dir(file), filepath.FromSlash(p.Value.Text()))
		if depth == 0 || !inside(root, next) {
			return "", p.Value.Errorf("the walk starts from itself, or from outside %s", root)
		}
		hash, err := hashNow(root, next, depth-1)
		if err != nil {
			return "", err
		}
		from = &Walk{Hash: hash}
	}
	return hashWalk(src, from), nil
}

// from reads the walk that another starts from.
func (r *reader) from(file string, n yamlfile.Node) (*Walk, error) {
	text, err := n.Scalar()
	if err != nil {
		return nil, err
	}
	path := filepath.Join(filepath.Dir(file), filepath.FromSlash(text))
	if filepath.IsAbs(filepath.FromSlash(text)) || !inside(r.root, path) {
		return nil, n.Errorf("%q leads out of the folder %s", text, r.root)
	}
	if slices.Contains(r.active, path) {
		return nil, n.Errorf("the walk starts from itself: %s", strings.Join(append(r.active[slices.Index(r.active, path):], path), " from "))
	}
	w, err := r.read(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, n.Errorf("there is no walk %s", path)
	}
	return w, err
}

// inside reports whether path lies in root.
func inside(root, path string) bool {
	rel, err := filepath.Rel(root, path)
	return err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator))
}
