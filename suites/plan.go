package suites

import (
	"errors"
	"fmt"
	"image"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/bench/yamlfile"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/golden"
)

// Names of what stands beside bench.yaml.
const (
	WalksDir  = "walks"
	GoldenDir = "golden"
	RunsDir   = "runs"
)

// A Plan is what a run will do: walks on a bench, all read and checked as far as that goes without
// the device.
type Plan struct {
	Bench *bench.Bench
	Walks []*Walk
	Store *golden.Store
	// PartName is which part of a run this is, as 2of5, and Hash of all walks of the parts.
	PartName, Hash string

	all  []*Walk // with those that walks only start from
	back *Walk   // the steps of the bench's return; nil if it has none

	hands map[string][]Motion // what a person does on a twin, by what a walk asks
}

// Prepare reads a bench and its walks. Names choose walks by file or by name; none means all of the
// folder walks beside the bench. All of them are read and checked, whichever are chosen.
func Prepare(benchFile string, names []string) (*Plan, error) {
	plans, err := PrepareEach([]string{benchFile}, names)
	if err != nil {
		return nil, err
	}
	return plans[0], nil
}

// PrepareEach is Prepare for several benches. Those that stand in one folder and know the same commands share their walks, which
// nothing changes once they are read.
func PrepareEach(benchFiles, names []string) (plans []*Plan, err error) {
	var readers []*reader
	for _, file := range benchFiles {
		b, err := bench.Read(file)
		if err != nil {
			return nil, err
		}
		i := slices.IndexFunc(readers, func(r *reader) bool { return r.root == b.Dir && maps.Equal(r.commands, b.Commands) })
		if i < 0 {
			i, readers = len(readers), append(readers, newReader(b))
		}
		p, err := prepare(b, readers[i], all(names))
		if err != nil {
			return nil, err
		}
		plans = append(plans, p)
	}
	return plans, nil
}

// all reads every walk of the folder and chooses those that names ask for.
func all(names []string) func(*reader, string) ([]*Walk, error) {
	return func(r *reader, folder string) ([]*Walk, error) {
		files, err := filepath.Glob(filepath.Join(folder, "*.yaml"))
		if err != nil {
			return nil, err
		}
		for _, f := range files {
			_, readErr := r.read(f)
			err = errors.Join(err, readErr)
		}
		if err != nil {
			return nil, err
		}
		return choose(r, folder, files, names)
	}
}

// PrepareFiles is Prepare for walks that have been checked and chosen: nothing else is read but what they start from.
func PrepareFiles(benchFile string, files []string) (*Plan, error) {
	b, err := bench.Read(benchFile)
	if err != nil {
		return nil, err
	}
	return prepare(b, newReader(b), func(r *reader, _ string) (walks []*Walk, err error) {
		for _, f := range files {
			w, readErr := r.read(f)
			walks, err = append(walks, w), errors.Join(err, readErr)
		}
		return walks, err
	})
}

func prepare(b *bench.Bench, r *reader, read func(r *reader, folder string) ([]*Walk, error)) (p *Plan, err error) {
	p = &Plan{Bench: b}
	if p.Store, err = golden.Open(filepath.Join(b.Dir, GoldenDir)); err != nil {
		return nil, err
	}
	if p.Walks, err = read(r, filepath.Join(b.Dir, WalksDir)); err != nil {
		return nil, err
	}
	if b.Return != "" {
		if p.back, err = r.steps(filepath.Join(b.Dir, filepath.FromSlash(b.Return))); err != nil {
			return nil, err
		}
		p.all = append(p.all, p.back)
	}
	if b.Hands != "" {
		if p.hands, err = r.readHands(filepath.Join(b.Dir, filepath.FromSlash(b.Hands))); err != nil {
			return nil, err
		}
	}
	if err := p.checkNames(); err != nil {
		return nil, err
	}
	p.Hash = planHash(p.Walks)
	for _, w := range r.walks {
		p.all = append(p.all, w)
	}
	slices.SortFunc(p.all, func(a, b *Walk) int { return strings.Compare(a.File, b.File) })
	if b.Panel != nil {
		if err := p.checkPanel(image.Pt(b.Panel.Width, b.Panel.Height)); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// choose picks the walks that names ask for, in their order.
func choose(r *reader, folder string, files, names []string) ([]*Walk, error) {
	var chosen []*Walk
	if len(names) == 0 {
		if len(files) == 0 {
			return nil, fmt.Errorf("there are no walks: %s holds no .yaml file", folder)
		}
		for _, f := range files {
			chosen = append(chosen, r.walks[filepath.Clean(f)])
		}
		return chosen, nil
	}
	for _, name := range names {
		w, err := pick(r, files, name)
		if err != nil {
			return nil, err
		}
		if !slices.Contains(chosen, w) {
			chosen = append(chosen, w)
		}
	}
	return chosen, nil
}

func pick(r *reader, files []string, name string) (*Walk, error) {
	var known []string
	for _, f := range files {
		w := r.walks[filepath.Clean(f)]
		if name == w.Name || name == w.Slug {
			return w, nil
		}
		known = append(known, w.Name)
	}
	if _, err := os.Stat(name); err == nil {
		if !inside(r.root, name) {
			return nil, fmt.Errorf("walk %s lies outside the bench's folder %s", name, r.root)
		}
		return r.read(name)
	}
	return nil, fmt.Errorf("no walk is called %q, and there is no such file%s", name, yamlfile.Among(name, known))
}

// checkNames finds walks whose names would share a folder.
func (p *Plan) checkNames() error {
	seen := map[string]*Walk{}
	for _, w := range p.Walks {
		if first, ok := seen[w.Slug]; ok {
			if first.Name == w.Name {
				return w.nameAt.Errorf("walk %q is also the name of %s", w.Name, first.File)
			}
			return w.nameAt.Errorf("walks %q and %q (%s) would share the folder name %s", w.Name, first.Name, first.File, w.Slug)
		}
		seen[w.Slug] = w
	}
	return nil
}

// checkPanel finds coordinates that lie off the panel.
func (p *Plan) checkPanel(size image.Point) error {
	panel := image.Rectangle{Max: size}
	on := func(s spot) error {
		if image.Pt(s.X, s.Y).In(panel) {
			return nil
		}
		return s.at.Errorf("%v lies off the panel, which is %dx%d", s, size.X, size.Y)
	}
	for _, w := range p.all {
		for name, area := range w.Areas {
			if !area.In(panel) {
				return w.areaAt[name].Errorf("area %q reaches off the panel, which is %dx%d", name, size.X, size.Y)
			}
		}
		for _, s := range w.Steps {
			var err error
			switch a := s.Do.(type) {
			case Tap:
				err = on(a.Spot)
			case HoldTouch:
				err = on(a.Spot)
			case Drag:
				err = errors.Join(on(a.From), on(a.To))
			}
			if err != nil {
				return err
			}
		}
	}
	return nil
}

// checkDevice finds what this device cannot do: before anything runs.
func (p *Plan) checkDevice(h link.Hello, canReset bool, feeds, keys []link.Item) error {
	if err := p.checkPanel(image.Pt(h.Width, h.Height)); err != nil {
		return err
	}
	takes := func(s Step, what string, kinds ...link.EventKind) error {
		for _, k := range kinds {
			if !h.Takes(k) {
				return s.At.Errorf("this device takes no %s", what)
			}
		}
		return nil
	}
	for _, w := range p.all {
		for _, s := range w.Steps {
			var err error
			switch a := s.Do.(type) {
			case ResetDevice:
				if !canReset {
					err = s.At.Errorf("this device cannot be reset: neither its agent, nor a line or power in bench.yaml does it")
				}
			case Clock:
				if !h.Has(link.CanClock) {
					err = s.At.Errorf("this device's clock cannot be set over the link: take the step out, or give the agent's port a clock function")
				}
			case Tap, HoldTouch:
				err = takes(s, "touch", link.TouchDown, link.TouchUp)
			case Drag:
				err = takes(s, "touch", link.TouchDown, link.TouchMove, link.TouchUp)
			case Type:
				err = takes(s, "text", link.Text)
			case Turn:
				err = takes(s, "knob", link.Turn)
			case Roll:
				err = takes(s, "wheel", link.Roll)
			case Key:
				if err = takes(s, "keys", link.KeyDown, link.KeyUp); err == nil {
					err = a.onDevice(keys)
				}
			case TapOn:
				err = takes(s, "touch", link.TouchDown, link.TouchUp)
			case Lamp:
				err = a.known(s, p.Bench.Camera, h)
			case Sweep:
				err = a.possible(s, h, feeds, keys)
			case Glass:
				if p.Bench.Camera == nil {
					err = s.At.Errorf("glass needs a camera, and the bench has none")
				} else if !h.Has(link.CanPattern) {
					err = s.At.Errorf("this device shows no test cards: its agent has no patterns")
				}
			case Redraw:
				if !h.Has(link.CanRedraw) {
					err = s.At.Errorf("this device cannot be asked to draw everything again")
				}
			case Log:
				if h.Protocol == 0 {
					err = s.At.Errorf("a device without an agent has no log to read")
				}
			case Feed:
				if !h.Has(link.CanFeed) {
					err = s.At.Errorf("this device cannot be fed over the link")
				} else {
					err = a.known(feeds)
				}
			}
			if err != nil {
				return err
			}
		}
	}
	return nil
}

func (f Feed) known(feeds []link.Item) error {
	if len(feeds) == 0 {
		return nil // a device that does not list its feeds is asked when it comes to that
	}
	var names []string
	for _, item := range feeds {
		names = append(names, item.Name)
	}
	for _, v := range f.Values {
		if !slices.Contains(names, v.Name) {
			return v.at.Errorf("the device has no feed %q%s", v.Name, yamlfile.Among(v.Name, names))
		}
	}
	return nil
}

func (k Key) onDevice(keys []link.Item) error {
	if len(keys) == 0 {
		return nil // it does not say which keys it has
	}
	var names []string
	for _, item := range keys {
		names = append(names, item.Name)
	}
	for i, u := range k.usages {
		has := slices.ContainsFunc(keys, func(item link.Item) bool { return item.Value == fmt.Sprintf("%d:%d", u.page, u.id) })
		if !has {
			return k.at[i].Errorf("the device has no key %q: it has %s", k.Names[i], strings.Join(names, ", "))
		}
	}
	return nil
}
