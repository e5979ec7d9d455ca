package wander

import (
	"fmt"
	"image"
	"math"
	"strings"

	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/wander/atlas"
)

// prepare makes the acts that can be tried anywhere.
func (w *wanderer) prepare() error {
	add := func(to *[]act, format string, args ...any) error {
		a, err := parse(fmt.Sprintf(format, args...))
		if err == nil {
			*to = append(*to, a)
		}
		return err
	}
	if w.h.Takes(link.KeyDown) {
		names := []string{"enter", "escape", "left", "right", "up", "down"} // for a device that does not tell
		if w.h.Has(link.CanList) {
			items, err := w.dev.List(w.ctx, link.Keys)
			if err != nil {
				return err
			}
			if names = names[:0]; len(items) > 0 {
				for _, item := range items {
					var page, id uint16
					if n, _ := fmt.Sscanf(item.Value, "%d:%d", &page, &id); n == 2 {
						if name, ok := suites.KeyName(page, id); ok {
							names = append(names, name)
						}
					}
				}
			}
		}
		for _, name := range names {
			if err := add(&w.keys, "key: %s", name); err != nil {
				return err
			}
		}
	}
	if w.h.Takes(link.Turn) {
		for _, by := range []int{1, -1, 5, -5} {
			if err := add(&w.keys, "turn: %d", by); err != nil {
				return err
			}
		}
	}
	if w.h.Takes(link.Text) {
		texts := w.o.Texts
		if len(texts) == 0 {
			texts = []string{"1111", "abc", "WWWWWWWWWWWW"}
		}
		for _, t := range texts {
			for _, end := range []string{"", "\n"} {
				if err := add(&w.vocabulary, "type: %q", strings.TrimSuffix(t, "\n")+end); err != nil {
					return err
				}
			}
		}
	}
	if w.hold {
		for _, by := range []string{"1s", "1m", "1h", "24h"} {
			if err := add(&w.vocabulary, "clock: {step: %s}", by); err != nil {
				return err
			}
		}
	}
	if w.h.Has(link.CanFeed) {
		for _, f := range w.o.Feeds {
			if err := add(&w.vocabulary, "feed: %s", feedText(f)); err != nil {
				return err
			}
		}
	}
	return nil
}

func feedText(f suites.Feed) string {
	var parts []string
	for _, v := range f.Values {
		items := strings.Split(v.Text, "\n")
		for i := range items {
			items[i] = fmt.Sprintf("%q", items[i])
		}
		value := items[0]
		if len(items) > 1 {
			value = "[" + strings.Join(items, ", ") + "]"
		}
		parts = append(parts, fmt.Sprintf("%q: %s", v.Name, value))
	}
	return "{" + strings.Join(parts, ", ") + "}"
}

// targets asks the firmware what can be touched; where it does not tell, touching anywhere finds out.
func (w *wanderer) targets() []atlas.Target {
	if !w.h.Has(link.CanList) {
		return nil
	}
	items, err := w.dev.List(w.ctx, link.Targets)
	if err != nil {
		return nil
	}
	var out []atlas.Target
	for _, item := range items {
		t := atlas.Target{Name: item.Name}
		if n, _ := fmt.Sscanf(item.Value, "%d,%d,%d,%d", &t.X, &t.Y, &t.W, &t.H); n == 4 && t.W > 0 && t.H > 0 {
			out = append(out, t)
		}
	}
	return out
}

// acts are what can be tried on the screen that the device shows, the likeliest first.
func (w *wanderer) acts() []act {
	var list []act
	add := func(format string, args ...any) {
		if a, err := parse(fmt.Sprintf(format, args...)); err == nil {
			list = append(list, a)
		}
	}
	if w.h.Takes(link.TouchDown) {
		targets := w.targets()
		for _, t := range targets {
			add("tap: {on: %q}", t.Name)
		}
		if len(targets) == 0 {
			for _, p := range w.at.screen.sign.Busy() {
				add("tap: [%d, %d]", p.X, p.Y)
			}
		}
	}
	list = append(list, w.keys...)
	if w.h.Takes(link.TouchDown) {
		x, y := w.h.Width, w.h.Height
		for _, d := range [][2]image.Point{
			{{x / 2, y * 3 / 4}, {x / 2, y / 4}}, {{x / 2, y / 4}, {x / 2, y * 3 / 4}}, // scroll
			{{x / 2, 2}, {x / 2, y * 3 / 5}}, {{x / 2, y - 2}, {x / 2, y * 2 / 5}}, // pull from an edge
			{{x / 4, y / 2}, {x * 3 / 4, y / 2}}, {{x * 3 / 4, y / 2}, {x / 4, y / 2}},
		} {
			add("drag: {from: [%d, %d], to: [%d, %d]}", d[0].X, d[0].Y, d[1].X, d[1].Y)
		}
	}
	return append(list, w.vocabulary...)
}

// untried draws an act that was never tried on this screen, the likelier ones sooner; once all were, any.
func (w *wanderer) untried() (act, bool) {
	list := w.acts()
	var open []act
	for _, a := range list {
		if w.at.screen.tried[a.text] == 0 {
			open = append(open, a)
		}
	}
	if len(open) == 0 {
		return w.draw()
	}
	return w.drawFrom(open, func(a act) float64 { return math.Sqrt(w.weight(a)) }) // everything, soon
}

func (w *wanderer) draw() (act, bool) { return w.drawFrom(w.acts(), w.weight) }

// drawFrom draws an act; touches weigh most, what the world does least, and what has changed this screen
// before weighs more than what has not.
func (w *wanderer) drawFrom(list []act, weight func(act) float64) (act, bool) {
	total := 0.0
	for _, a := range list {
		total += weight(a)
	}
	if len(list) == 0 {
		return act{}, false
	}
	n := w.rng.Float64() * total
	for _, a := range list {
		if n -= weight(a); n < 0 {
			return a, true
		}
	}
	return list[0], true
}

func (w *wanderer) weight(a act) float64 {
	base := 1.0
	switch a.step.Do.(type) {
	case suites.Tap, suites.TapOn:
		base = 8
	case suites.Key, suites.Turn:
		base = 4
	case suites.Type:
		base = 6 // few screens take any
	case suites.Drag:
		base = 2
	}
	e := w.effects(w.at.screen, a)
	return base * (1 + 2*float64(e.changed)) / (1 + float64(e.tried))
}

// An effect is how often a kind of act was tried on a screen, and changed the picture.
type effect struct{ tried, changed int }

// effects finds the effect of acts of the same kind: each touch for itself, feeds by their names.
func (w *wanderer) effects(s *screen, a act) *effect {
	key := s.id() + fmt.Sprintf(" %T", a.step.Do)
	switch do := a.step.Do.(type) {
	case suites.Tap, suites.TapOn, suites.Key:
		key += a.text
	case suites.Feed:
		key += do.Values[0].Name
	}
	e := w.effect[key]
	if e == nil {
		e = &effect{}
		w.effect[key] = e
	}
	return e
}

// toHammer draws an act of a kind that changes this screen, and that was not yet given several times over.
func (w *wanderer) toHammer() (act, bool) {
	var open []act
	for _, a := range w.acts() {
		if !w.at.screen.hammered[a.text] && w.effects(w.at.screen, a).changed > 0 {
			open = append(open, a)
		}
	}
	a, ok := w.drawFrom(open, func(a act) float64 {
		if _, text := a.step.Do.(suites.Type); text {
			return 4 // an entry that is refused is given again
		}
		return 1
	})
	if ok {
		w.at.screen.hammered[a.text] = true
	}
	return a, ok
}
