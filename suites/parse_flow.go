package suites

import (
	"errors"
	"fmt"
	"os"
	"regexp"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture/bench/yamlfile"
)

// maxSteps bounds a walk after via and each have been written out.
const maxSteps = 10_000

// readSteps reads a list of steps, and writes out what via takes in and each repeats.
func (w *Walk) readSteps(r *reader, list yamlfile.Node) error {
	items, err := list.List()
	if err != nil {
		return err
	}
	for _, item := range items {
		if err := w.readItem(r, item); err != nil {
			return err
		}
		if len(w.Steps) > maxSteps {
			return item.Errorf("the walk has more than %d steps", maxSteps)
		}
	}
	return nil
}

func (w *Walk) readItem(r *reader, item yamlfile.Node) error {
	if item.IsMap() {
		pairs, err := item.Map()
		if err != nil {
			return err
		}
		if name := pairs[0].Key.Text(); len(pairs) == 1 && name == "via" {
			return w.via(r, pairs[0].Value)
		} else if len(pairs) == 1 && name == "each" {
			return w.each(r, pairs[0].Value)
		}
	}
	s, err := w.readStep(item)
	if err != nil {
		return err
	}
	w.Steps = append(w.Steps, s)
	return nil
}

// via takes in the steps of another file, which may bring areas along.
func (w *Walk) via(r *reader, n yamlfile.Node) error {
	path, err := r.beside(n.Path(), n)
	if err != nil {
		return err
	}
	src, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		return n.Errorf("there is no file %s", path)
	}
	if err != nil {
		return n.Errorf("%v", err)
	}
	root, err := yamlfile.Parse(path, src)
	if err != nil {
		return err
	}
	r.active = append(r.active, path)
	defer func() { r.active = r.active[:len(r.active)-1] }()
	w.sources = append(w.sources, src)
	var steps yamlfile.Node
	err = root.Fields(map[string]func(yamlfile.Node) error{
		"areas": w.readAreas,
		"steps": func(n yamlfile.Node) error { steps = n; return nil },
	})
	if err != nil {
		return err
	}
	if !steps.Valid() {
		return root.Errorf("a file for via needs steps")
	}
	return w.readSteps(r, steps)
}

// steps reads a file of steps alone, such as the way back to where walks start.
func (r *reader) steps(file string) (*Walk, error) {
	if !inside(r.root, file) {
		return nil, fmt.Errorf("%s leads out of the folder %s", file, r.root)
	}
	src, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("read the steps of return: %w", err)
	}
	root, err := yamlfile.Parse(file, src)
	if err != nil {
		return nil, err
	}
	w := newWalk(file, r.commands)
	w.Name = "return"
	var list yamlfile.Node
	err = root.Fields(map[string]func(yamlfile.Node) error{
		"areas": w.readAreas,
		"steps": func(n yamlfile.Node) error { list = n; return nil },
	})
	if err != nil {
		return nil, err
	}
	if !list.Valid() {
		return nil, root.Errorf("the file has no steps")
	}
	return w, w.readSteps(r, list)
}

var variable = regexp.MustCompile(`^[a-z][a-z0-9]*$`)

// each repeats steps over values: {language: [de, fr], steps: [...]}, with $language in their texts.
func (w *Walk) each(r *reader, n yamlfile.Node) error {
	pairs, err := n.Map()
	if err != nil {
		return err
	}
	var name string
	var values, steps yamlfile.Node
	for _, p := range pairs {
		switch {
		case p.Key.Text() == "steps":
			steps = p.Value
		case name != "":
			return p.Key.Errorf("each repeats over one name; %q is a second: put an each into the other's steps", p.Key.Text())
		case !variable.MatchString(p.Key.Text()):
			return p.Key.Errorf("a name to repeat over is of small letters and digits, not %q", p.Key.Text())
		default:
			name, values = p.Key.Text(), p.Value
		}
	}
	if name == "" || !steps.Valid() {
		return n.Errorf("each needs a name with values, and steps: {language: [de, fr], steps: [...]}")
	}
	items, err := values.List()
	if err != nil {
		return err
	}
	for _, item := range items {
		value, err := item.Scalar()
		if err != nil {
			return err
		}
		if err := w.readSteps(r, steps.With(name, value)); err != nil {
			return err
		}
	}
	return nil
}

func readRedraw(_ *Walk, n yamlfile.Node) (Action, error) {
	if n.Valid() {
		return nil, n.Errorf("redraw takes no value")
	}
	return Redraw{}, nil
}

const (
	defaultHand = 2 * time.Minute
	longestHand = time.Hour
)

// readHand reads what a person is asked to do.
func readHand(_ *Walk, n yamlfile.Node) (Action, error) {
	h := Hand{Patience: defaultHand}
	if !n.IsMap() {
		var err error
		h.Ask, err = n.Scalar()
		return h, err
	}
	err := n.Fields(map[string]func(yamlfile.Node) error{
		"ask":    func(v yamlfile.Node) (err error) { h.Ask, err = v.Scalar(); return err },
		"within": func(v yamlfile.Node) (err error) { h.Patience, err = v.Duration(time.Second, longestHand); return err },
	})
	if err == nil && h.Ask == "" {
		err = n.Errorf("hand needs ask: what is the person to do?")
	}
	return h, err
}

func (w *Walk) readLabels(n yamlfile.Node) error {
	items, err := n.List()
	if err != nil {
		return err
	}
	for _, item := range items {
		text, err := item.Scalar()
		if err != nil {
			return err
		}
		if strings.ContainsAny(text, "&|!,()/:") || strings.TrimSpace(text) == "" {
			return item.Errorf("label %q: a label has none of & | ! , ( ) / :, which select labels", text)
		}
		w.Labels = append(w.Labels, text)
	}
	return nil
}
