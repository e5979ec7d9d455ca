// Package critic gathers pictures for compare/lint, from files, goldens, runs and maps of screens, and sets
// aside findings that somebody has accepted with a reason.
package critic

import (
	"fmt"
	"image"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/bench/yamlfile"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare/lint"
	"github.com/fascia-bench/fascia/suites/wander/atlas"
)

// Gather reads pictures: a file, a folder with all below it, or a folder with a map of screens, which
// brings the touch targets along. A picture's name is its path within the folder. The format is the
// panel's, where a map does not say it; 0: not known.
func Gather(where string, format capture.Format) ([]lint.Picture, error) {
	info, err := os.Stat(where)
	if err != nil {
		return nil, fmt.Errorf("read pictures: %w", err)
	}
	if !info.IsDir() {
		m, err := picture.Read(where)
		if err != nil {
			return nil, err
		}
		return []lint.Picture{{Name: nameOf(filepath.Base(where)), Image: m, Format: format}}, nil
	}
	if _, err := os.Stat(filepath.Join(where, atlas.File)); err == nil {
		return fromMap(where)
	}
	var out []lint.Picture
	err = filepath.WalkDir(where, func(file string, d fs.DirEntry, err error) error {
		// A run keeps a golden beside a capture that differs from it; glass is seen through a lens.
		if err != nil || d.IsDir() || !pictured(file) || strings.HasSuffix(file, ".golden.png") || strings.Contains(filepath.Base(file), ".photo-") {
			return err
		}
		m, err := picture.Read(file)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(where, file)
		if err == nil {
			out = append(out, lint.Picture{Name: nameOf(filepath.ToSlash(rel)), Image: m, Format: format})
		}
		return err
	})
	if err == nil && len(out) == 0 {
		err = fmt.Errorf("there is no picture in %s: .png, .ppm, .pgm and .pbm are read", where)
	}
	return out, err
}

func pictured(file string) bool {
	switch strings.ToLower(filepath.Ext(file)) {
	case ".png", ".ppm", ".pgm", ".pbm":
		return true
	}
	return false
}

func nameOf(file string) string { return strings.TrimSuffix(file, path.Ext(file)) }

// fromMap reads the pictures of a map. A target that is smaller on one screen than on another of that name is
// scrolled halfway out of sight there, and not small.
func fromMap(where string) ([]lint.Picture, error) {
	m, dir, err := atlas.Load(where)
	if err != nil {
		return nil, err
	}
	format, err := capture.ParseFormat(m.Panel.Format)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", filepath.Join(dir, atlas.File), err)
	}
	largest := map[string]image.Point{}
	for _, s := range m.Screens {
		for _, t := range s.Targets {
			l := largest[s.Name+"/"+t.Name]
			largest[s.Name+"/"+t.Name] = image.Pt(max(l.X, t.W), max(l.Y, t.H))
		}
	}
	var out []lint.Picture
	for _, s := range m.Screens {
		for i, file := range append([]string{s.Picture}, s.More...) {
			img, err := picture.Read(filepath.Join(dir, filepath.Base(file)))
			if err != nil {
				return nil, err
			}
			p := lint.Picture{Name: nameOf(file), Image: img, Format: format}
			if s.Name != "" {
				p.Name += " " + s.Name
			}
			for _, t := range s.Targets {
				if l := largest[s.Name+"/"+t.Name]; i == 0 && l.X == t.W && l.Y == t.H {
					p.Targets = append(p.Targets, lint.NewTarget(t.Name, t.X, t.Y, t.W, t.H))
				}
			}
			out = append(out, p)
		}
	}
	return out, nil
}

// An Accept sets findings aside, for a reason.
type Accept struct {
	Kind    string
	Picture string          // a pattern of names, * standing for any text; "" is all
	Box     image.Rectangle // that the finding lies in; empty: anywhere
	Why     string

	Used int // findings that it set aside
	at   yamlfile.Place
}

// Place is where it is written.
func (a *Accept) Place() string { return fmt.Sprintf("%s:%d", a.at.Path(), a.at.Line()) }

// Read reads a file of accepted findings.
func Read(file string) ([]*Accept, error) {
	root, err := yamlfile.Read(file)
	if err != nil {
		return nil, err
	}
	var out []*Accept
	err = root.Fields(map[string]func(yamlfile.Node) error{"accept": func(n yamlfile.Node) error {
		items, err := n.List()
		if err != nil {
			return err
		}
		for _, item := range items {
			a, err := readAccept(item)
			if err != nil {
				return err
			}
			out = append(out, a)
		}
		return nil
	}})
	return out, err
}

func readAccept(n yamlfile.Node) (*Accept, error) {
	a := &Accept{at: n.Place()}
	err := n.Fields(map[string]func(yamlfile.Node) error{
		"kind": func(v yamlfile.Node) (err error) {
			if a.Kind, err = v.Scalar(); err != nil {
				return err
			}
			for _, k := range lint.Kinds {
				if k == a.Kind {
					return nil
				}
			}
			return v.Errorf("unknown kind %q%s", a.Kind, yamlfile.Among(a.Kind, lint.Kinds))
		},
		"picture": func(v yamlfile.Node) (err error) { a.Picture, err = v.Scalar(); return err },
		"box": func(v yamlfile.Node) error {
			b, err := v.Ints(0, 1<<15, "x", "y", "width", "height")
			if err == nil {
				a.Box = image.Rect(b[0], b[1], b[0]+b[2], b[1]+b[3])
			}
			return err
		},
		"why": func(v yamlfile.Node) (err error) { a.Why, err = v.Scalar(); return err },
	})
	if err == nil && (a.Kind == "" || strings.TrimSpace(a.Why) == "") {
		err = n.Errorf("an accepted finding needs its kind, and why it is accepted: {kind: contrast, picture: \"chart/*\", why: …}")
	}
	return a, err
}

// Sort parts findings into those that nobody has accepted, and the others, with the reason.
func Sort(found []lint.Finding, accepts []*Accept) (open, accepted []lint.Finding) {
	open, accepted = []lint.Finding{}, []lint.Finding{}
	for _, f := range found {
		var by *Accept
		for _, a := range accepts {
			if a.Kind == f.Kind && (a.Picture == "" || matches(a.Picture, f.Picture)) && (a.Box.Empty() || f.Rect().In(a.Box)) {
				by = a
				break
			}
		}
		if by == nil {
			open = append(open, f)
			continue
		}
		by.Used++
		f.Why = by.Why
		accepted = append(accepted, f)
	}
	return open, accepted
}

// matches holds a name against a pattern; * stands for any text.
func matches(pattern, name string) bool {
	parts := strings.Split(pattern, "*")
	if len(parts) == 1 {
		return pattern == name
	}
	if !strings.HasPrefix(name, parts[0]) {
		return false
	}
	name = name[len(parts[0]):]
	for _, p := range parts[1 : len(parts)-1] {
		i := strings.Index(name, p)
		if i < 0 {
			return false
		}
		name = name[i+len(p):]
	}
	return strings.HasSuffix(name, parts[len(parts)-1])
}
