package between

import (
	"errors"
	"fmt"
	"image"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"sort"
	"strings"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites/record"
)

// entry is one look of one side.
type entry struct {
	name Name
	read func() (image.Image, error) // nil: there is no picture
	// prev is the entry that the panel showed before in the same walk, or -1.
	prev   int
	ignore []image.Rectangle
	pixels string                      // hash of what the framebuffer held, where it is known
	photo  func() (image.Image, error) // the panel as the bench's camera saw it; nil where none was kept
	camera bool                        // whether a camera looked at all
}

// side is one of the two that are compared.
type side struct {
	dir     string
	entries []entry
	run     *record.Run
}

// format is what the device sent its pictures in, or "".
func (s *side) format() string {
	if s.run == nil {
		return ""
	}
	return s.run.Device.Format
}

// Open lays out two sides: folders of runs, of goldens or of pictures. With after empty, before is a run
// and is held against the goldens that it was walked with.
func Open(before, after string) (*Pairing, error) {
	if after == "" {
		s, err := openRun(before)
		if err != nil {
			return nil, err
		}
		return pair(goldensOf(s), s)
	}
	isRun := func(dir string) bool { return exists(filepath.Join(dir, record.File)) }
	if b, a := exists(filepath.Join(before, "ledger.jsonl")), exists(filepath.Join(after, "ledger.jsonl")); b != a && (isRun(before) || isRun(after)) {
		run, store := after, before
		if a {
			run, store = before, after
		}
		s, err := openRun(run)
		if err != nil {
			return nil, err
		}
		g, err := openStore(store, s)
		if err != nil {
			return nil, err
		}
		if a {
			return pair(s, g)
		}
		return pair(g, s)
	}
	var sides [2]*side
	for i, dir := range []string{before, after} {
		open := openFolder
		if isRun(dir) {
			open = openRun
		}
		var err error
		if sides[i], err = open(dir); err != nil {
			return nil, err
		}
	}
	// A run against a plain folder: by file names, as the run's folder has them.
	if (sides[0].run == nil) != (sides[1].run == nil) {
		for _, s := range sides {
			for i := range s.entries {
				e := &s.entries[i]
				for _, part := range []*string{&e.name.Walk, &e.name.Look} {
					if name, err := golden.FileName(*part); err == nil {
						*part = name
					}
				}
			}
		}
	}
	return pair(sides[0], sides[1])
}

func exists(file string) bool {
	_, err := os.Stat(file)
	return err == nil
}

func openRun(dir string) (*side, error) {
	run, err := record.Load(dir)
	if err != nil {
		return nil, err
	}
	s := &side{dir: dir, run: run}
	last := map[string]int{}
	for _, l := range run.Looks {
		e := entry{name: Name{Walk: l.Walk, Look: l.Look}, prev: -1}
		if k, ok := last[l.Walk]; ok {
			e.prev = k
		}
		for _, g := range l.Ignored {
			e.ignore = append(e.ignore, image.Rect(g.X, g.Y, g.X+g.W, g.Y+g.H))
		}
		file := l.Capture
		if p := l.Photo; p != nil {
			e.camera = true
			if p.Panel != "" {
				e.photo = inside(dir, p.Panel, p.Pixels)
			}
			if p.Glass {
				file = l.Golden // the framebuffer is as approved; the capture shown is the photo
			}
		}
		if file != "" {
			e.read, e.pixels = inside(dir, file, l.Pixels), l.Pixels
		} else {
			e.name.Why = l.Why
			if e.name.Why == "" {
				e.name.Why = string(l.Verdict)
			}
		}
		last[l.Walk] = len(s.entries)
		s.entries = append(s.entries, e)
	}
	return s, nil
}

// inside reads a picture of a run, never one outside its folder, and holds it against the hash that was
// recorded, if one was.
func inside(dir, file, pixels string) func() (image.Image, error) {
	return func() (image.Image, error) {
		at := filepath.Join(dir, filepath.FromSlash(file))
		root, err := os.OpenRoot(dir)
		if err != nil {
			return nil, fmt.Errorf("read %s: %w", at, err)
		}
		defer root.Close()
		f, err := root.Open(filepath.FromSlash(file))
		if err != nil {
			return nil, fmt.Errorf("read %s: %w", at, err)
		}
		defer f.Close()
		img, err := picture.Decode(f, at)
		if err != nil {
			return nil, err
		}
		if pixels != "" && picture.Hash(img) != pixels {
			return nil, fmt.Errorf("%s is not the picture that was captured: it was changed after the run", at)
		}
		return img, nil
	}
}

// goldensOf gives the goldens that a run was walked with.
func goldensOf(s *side) *side {
	g := &side{dir: s.dir, run: s.run}
	for i, l := range s.run.Looks {
		e := entry{name: s.entries[i].name, prev: s.entries[i].prev}
		e.name.Why = ""
		switch {
		case l.Golden != "":
			e.read = inside(s.dir, l.Golden, l.GoldenPixels)
		case l.Verdict == record.Same && s.entries[i].read != nil:
			e.read = s.entries[i].read // the golden is that very picture
		case l.Verdict == record.Unapproved:
			continue // nobody approved it: only after
		default:
			e.name.Why = s.entries[i].name.Why
		}
		if e.prev >= len(g.entries) {
			e.prev = -1
		}
		g.entries = append(g.entries, e)
	}
	return g
}

// openStore gives a store's goldens for the looks of a run.
func openStore(dir string, s *side) (*side, error) {
	store, err := golden.Open(dir)
	if err != nil {
		return nil, err
	}
	g := &side{dir: dir}
	for _, e := range s.entries {
		_, _, err := store.Get(s.run.Target, e.name.Walk, e.name.Look)
		if errors.Is(err, golden.ErrNoGolden) {
			continue
		}
		if err != nil {
			return nil, err
		}
		g.entries = append(g.entries, entry{name: Name{Walk: e.name.Walk, Look: e.name.Look}, prev: -1, read: func() (image.Image, error) {
			img, _, err := store.Get(s.run.Target, e.name.Walk, e.name.Look)
			return img, err
		}})
	}
	return g, nil
}

// pictureFile tells the files of a folder that are taken for looks.
var pictureFile = map[string]bool{".png": true, ".ppm": true, ".pgm": true, ".pbm": true, ".jpg": true, ".jpeg": true}

func openFolder(dir string) (*side, error) {
	info, err := os.Stat(dir)
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", dir, err)
	}
	if !info.IsDir() {
		return nil, fmt.Errorf("%s is no folder: name a run or a folder of pictures; for two pictures there is fascia compare", dir)
	}
	s := &side{dir: dir}
	seen := map[Name]string{}
	err = filepath.WalkDir(dir, func(file string, d fs.DirEntry, err error) error {
		if err != nil {
			return fmt.Errorf("read folder %s: %w", dir, err)
		}
		if strings.HasPrefix(d.Name(), ".") && file != dir {
			if d.IsDir() {
				return filepath.SkipDir
			}
			return nil
		}
		ext := strings.ToLower(filepath.Ext(file))
		if d.IsDir() || !pictureFile[ext] {
			return nil
		}
		rel, err := filepath.Rel(dir, file)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel[:len(rel)-len(ext)])
		n := Name{Walk: path.Dir(rel), Look: path.Base(rel)}
		if n.Walk == "." {
			n.Walk = ""
		}
		if other, ok := seen[n]; ok {
			return fmt.Errorf("%s and %s are the same look: keep one of them", other, file)
		}
		seen[n] = file
		s.entries = append(s.entries, entry{name: n, prev: -1, read: func() (image.Image, error) { return picture.Read(file) }})
		return nil
	})
	if err != nil {
		return nil, err
	}
	if len(s.entries) == 0 {
		return nil, fmt.Errorf("%s holds no run and no pictures", dir)
	}
	sort.Slice(s.entries, func(i, j int) bool {
		a, b := s.entries[i].name, s.entries[j].name
		return a.Walk < b.Walk || a.Walk == b.Walk && a.Look < b.Look
	})
	return s, nil
}

// pair matches the looks of two sides.
func pair(before, after *side) (*Pairing, error) {
	key := func(n Name) Name { return Name{Walk: n.Walk, Look: n.Look} }
	index := map[Name]int{}
	for i, e := range before.entries {
		index[key(e.name)] = i
	}
	p := &Pairing{boards: &boards{formats: [2]string{before.format(), after.format()}}}
	paired := map[Name]bool{}
	at := make([]int, len(after.entries)) // of each entry its index among the looks, or -1
	var photos glass
	for i, a := range after.entries {
		at[i] = -1
		k, ok := index[key(a.name)]
		if !ok {
			if a.read == nil {
				p.Uncaptured = append(p.Uncaptured, a.name)
			} else {
				p.OnlyAfter = append(p.OnlyAfter, a.name)
			}
			continue
		}
		paired[key(a.name)] = true
		b := before.entries[k]
		if a.read == nil || b.read == nil {
			n := a.name
			if n.Why == "" {
				n.Why = b.name.Why
			}
			p.Uncaptured = append(p.Uncaptured, n)
			continue
		}
		l := Look{Name: key(a.name), boards: p.boards, mayBePhoto: before.run == nil && after.run == nil, before: b.read, after: a.read, previous: -1, unchecked: [2][]image.Rectangle{b.ignore, a.ignore}}
		if a.prev >= 0 {
			l.previous = at[a.prev]
		}
		at[i] = len(p.Looks)
		p.Looks = append(p.Looks, l)
		photos.add(b, a, l)
	}
	p.Looks = append(p.Looks, photos.pairs...)
	photos.say(p.boards)
	for _, b := range before.entries {
		if !paired[key(b.name)] {
			if b.read == nil {
				p.Uncaptured = append(p.Uncaptured, b.name)
			} else {
				p.OnlyBefore = append(p.OnlyBefore, b.name)
			}
		}
	}
	if len(p.Looks) == 0 && len(p.Uncaptured) == 0 {
		return nil, fmt.Errorf("%s and %s have no look in common: looks are paired by walk and name, in folders by file name", before.dir, after.dir)
	}
	return p, nil
}
