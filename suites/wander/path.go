package wander

import (
	"fmt"
	"slices"

	"github.com/fascia-bench/fascia/suites"
)

// feedUnseen gives what can be fed without the first screen showing it, one value of each name: a device
// that knows the right code, say, has more screens. What is fed stands at the start of every road.
func (w *wanderer) feedUnseen() {
	had := map[string]bool{}
	for _, a := range w.vocabulary {
		f, ok := a.step.Do.(suites.Feed)
		if !ok || len(f.Values) != 1 || had[f.Values[0].Name] || w.at == nil || w.err != nil {
			continue
		}
		start, road := w.at, w.road
		if !w.do(a) {
			continue
		}
		if w.at == start { // the same picture; every road begins with it from now on
			had[f.Values[0].Name] = true
			start.road, w.prefix = w.road, w.road
			if back, err := w.dev.Branch(); err != nil {
				w.err = err
			} else if start.back != nil {
				start.back = back
			}
			continue
		}
		start.road = road
		if !w.goTo(start) {
			break
		}
	}
	if w.err != nil || len(had) == 0 {
		return
	}
	w.err = w.start(false) // what walks lead to stays as they found it
}

// episode goes somewhere and does something for a while.
func (w *wanderer) episode() {
	n := w.choose()
	if n == nil || !w.goTo(n) {
		if w.err == nil {
			w.err = w.start(false)
		}
		if w.err != nil || w.at == nil {
			return
		}
	}
	findings := len(w.findings)
	on := func() bool {
		return w.err == nil && w.at != nil && len(w.findings) == findings && w.steps < w.o.Steps
	}
	switch r := w.rng.IntN(10); {
	case r < 4: // one thing again and again: what counts, runs over, wears out
		a, ok := w.toHammer()
		for range 4 {
			if !ok || !on() || !w.do(a) {
				break
			}
		}
	case r < 6: // anywhere
		for range 12 {
			if a, ok := w.draw(); !ok || !on() || !w.do(a) {
				break
			}
		}
	default: // what was never tried here
		for range 6 {
			if a, ok := w.untried(); !ok || !on() || !w.do(a) {
				break
			}
		}
	}
}

// choose picks a picture to go on from: of a screen seldom chosen, one seldom chosen.
func (w *wanderer) choose() *node {
	var best *node
	bestAt := 0.0
	tried := map[string]int{} // screens that the firmware calls by one name count as one
	for _, s := range w.screens {
		tried[s.group()] += len(s.tried)
	}
	for _, s := range w.screens {
		for _, n := range s.nodes {
			// A seldom used node of a screen with much left to try wins; chance decides among equals.
			weight := w.rng.Float64() / (1 + float64(n.tries)) / (1 + float64(tried[s.group()])/8)
			if best == nil || weight > bestAt {
				best, bestAt = n, weight
			}
		}
	}
	if best != nil {
		best.tries++
	}
	return best
}

// goTo brings the device to a node.
func (w *wanderer) goTo(n *node) bool {
	w.last, w.before = nil, nil
	if w.at == n {
		return true
	}
	if n.back != nil {
		if err := n.back(); err != nil {
			w.err = fmt.Errorf("go back on the twin: %w", err)
			return false
		}
		w.p.Back()
		w.at, w.road, w.name = n, n.road, n.name
		return true
	}
	if w.at != nil && len(w.road) < 40 && w.rng.IntN(4) > 0 {
		return true // walking there costs more than going on from here
	}
	if w.err = w.start(false); w.err != nil {
		return false
	}
	for _, a := range n.road {
		if !w.do(a) || w.err != nil {
			return false
		}
	}
	return w.at != nil
}

// parse makes an act of a step's text.
func parse(text string) (act, error) {
	steps, err := suites.ReadSteps("wander", "  - "+text+"\n")
	if err != nil || len(steps) != 1 {
		return act{}, fmt.Errorf("%q is no step: %w", text, err)
	}
	return act{text: text, step: steps[0]}, nil
}

func extend(road []act, a act, from *screen) []act {
	a.from = from
	return append(slices.Clone(road), a)
}
