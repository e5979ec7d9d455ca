package handbook

import (
	"fmt"
	"path"
	"slices"
	"strings"

	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/record"
)

// A collector walks the walks on paper.
type collector struct {
	b       *Book
	screens map[string]*Screen // by file name
	ends    map[*suites.Walk]place
}

// A place is where a walk has come to.
type place struct {
	screen   *Screen
	named    bool // by the firmware's log or by the look; else a later look is another screen
	view     *View
	language string
	path     []record.Input // since the view
	way      []record.Input // since the screen was reached, or its last view
}

func newCollector(b *Book) *collector {
	return &collector{b: b, screens: map[string]*Screen{}, ends: map[*suites.Walk]place{}}
}

func (c *collector) screen(name string) (*Screen, error) {
	slug, err := golden.FileName(name)
	if err != nil {
		return nil, fmt.Errorf("screen %q: %w", name, err)
	}
	s := c.screens[slug]
	if s == nil {
		s = &Screen{Name: name, Slug: slug}
		c.screens[slug] = s
		c.b.Screens = append(c.b.Screens, s)
	}
	return s, nil
}

// walk goes through a walk and the one it starts from, once each, and returns where it ends.
func (c *collector) walk(w *suites.Walk) (place, error) {
	if end, done := c.ends[w]; done {
		return end, nil
	}
	var at place
	if w.From != nil {
		var err error
		if at, err = c.walk(w.From); err != nil {
			return at, err
		}
	}
	for _, s := range w.Steps {
		if err := c.step(&at, w, s.Do); err != nil {
			return at, err
		}
	}
	c.ends[w] = at
	return at, nil
}

func (c *collector) step(at *place, w *suites.Walk, do suites.Action) error {
	switch a := do.(type) {
	case suites.TakeLook:
		return c.look(at, w, a)
	case suites.Log:
		if name, ok := strings.CutPrefix(a.Pattern, "language "); ok && !strings.Contains(name, "*") {
			at.language = strings.TrimSpace(name)
		}
		if name, ok := strings.CutPrefix(a.Pattern, "screen "); ok && !strings.Contains(name, "*") {
			s, err := c.screen(strings.TrimSpace(name))
			if err != nil {
				return err
			}
			c.arrive(at, s)
			at.named = true
		}
	case suites.ResetDevice:
		*at = place{}
	case suites.Wait, suites.Settle, suites.Within, suites.Redraw, suites.Lamp:
	default:
		if f, ok := a.(suites.Feed); ok {
			for _, v := range f.Values {
				if v.Name == "language" {
					at.language = v.Text
				}
			}
		}
		in := a.Says()
		if at.screen != nil {
			at.screen.inputs = append(at.screen.inputs, in)
		}
		at.path, at.way = append(slices.Clone(at.path), in), append(slices.Clone(at.way), in)
	}
	return nil
}

// arrive notes that a screen is shown now.
func (c *collector) arrive(at *place, s *Screen) {
	if s == at.screen {
		return
	}
	w := &Way{From: at.screen, To: s, Inputs: at.way}
	if at.view != nil && at.view.Screen == at.screen { // else nothing shows where it was touched
		w.At = at.view
	}
	at.screen, at.way = s, nil
	for _, have := range c.b.Ways {
		if have.From == w.From && have.To == w.To && (have.From == nil || says(have.Inputs) == says(w.Inputs)) {
			return
		}
	}
	c.b.Ways = append(c.b.Ways, w)
	s.In = append(s.In, w)
	if w.From != nil {
		w.From.Out = append(w.From.Out, w)
	}
	if w.At != nil {
		w.At.Ways = append(w.At.Ways, w)
	}
}

func (c *collector) look(at *place, w *suites.Walk, l suites.TakeLook) error {
	name, named := l.Screen, l.Screen != "" || at.named
	if name == "" {
		if name = l.Name; at.named {
			name = at.screen.Name
		}
	}
	s, err := c.screen(name)
	if err != nil {
		return err
	}
	c.arrive(at, s)
	if l.Language != "" {
		at.language = l.Language
	}
	v := &View{ID: w.Slug + "-" + l.File, Walk: w.Name, Look: l.Name, File: path.Join(w.Slug, l.File+".png"), Note: strings.TrimSpace(l.Note),
		Language: at.language, Screen: s, Before: at.view, Path: at.path}
	s.Views = append(s.Views, v)
	c.b.Views = append(c.b.Views, v)
	if !slices.Contains(c.b.Languages, v.Language) {
		c.b.Languages = append(c.b.Languages, v.Language)
	}
	at.view, at.named, at.path, at.way = v, named, nil, nil
	return nil
}

// sort puts screens into the order in which a user meets them, and the device's first language first.
func (c *collector) sort() {
	depth := c.b.depths()
	slices.SortStableFunc(c.b.Screens, func(a, b *Screen) int { return depth[a] - depth[b] })
	slices.Sort(c.b.Languages)
	for _, s := range c.b.Screens {
		easiest := s.Easiest()
		slices.SortStableFunc(s.Views, func(a, b *View) int {
			if a.Language == b.Language && (a == easiest) != (b == easiest) {
				if a == easiest {
					return -1
				}
				return 1
			}
			return strings.Compare(a.Language, b.Language)
		})
	}
}

// depths counts for each screen how many ways lead to it from power-on, at least.
func (b *Book) depths() map[*Screen]int {
	depth := map[*Screen]int{}
	roots := slices.DeleteFunc(slices.Clone(b.Ways), func(w *Way) bool { return w.From != nil })
	slices.SortStableFunc(roots, func(a, b *Way) int { return len(a.Inputs) - len(b.Inputs) })
	// What is reached from power-on with the least ado comes first; others may be reached from there, too.
	for _, root := range roots {
		if _, seen := depth[root.To]; seen {
			continue
		}
		depth[root.To] = 0
		for queue := []*Screen{root.To}; len(queue) > 0; queue = queue[1:] {
			for _, w := range queue[0].Out {
				if _, seen := depth[w.To]; !seen {
					depth[w.To] = depth[queue[0]] + 1
					queue = append(queue, w.To)
				}
			}
		}
	}
	return depth
}

// says puts inputs into words.
func says(inputs []record.Input) string {
	var out []string
	for _, in := range inputs {
		out = append(out, in.Says)
	}
	return strings.Join(out, ", ")
}

// Road is how to get to a view from power-on: the views on the way, itself last.
func (v *View) Road() []*View {
	var road []*View
	for ; v != nil; v = v.Before {
		road = append(road, v)
	}
	slices.Reverse(road)
	return road
}

// Easiest is the view of a screen that takes the fewest inputs to get to; nil if it was never looked at.
func (s *Screen) Easiest() *View {
	var best *View
	least := 0
	for _, v := range s.Views {
		n := 0
		for _, r := range v.Road() {
			n += len(r.Path)
		}
		if best == nil || n < least {
			best, least = v, n
		}
	}
	return best
}
