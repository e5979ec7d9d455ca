package wander

import (
	"fmt"
	"slices"

	"github.com/fascia-bench/fascia/compare"
)

// A roadKey is one input on one picture.
type roadKey struct {
	picture uint64
	text    string
}

// An arrival is an input, where it was given, and where it led.
type arrival struct {
	from *node
	act  act
	to   *node
	road []act // from reset to the end
}

// compareRoads holds where an input led against where the same input on the same picture led before.
// Another picture alone is no fault: what the device remembers may well be shown. But what it remembers
// changes what is drawn, and not how; so only a picture of the same things, drawn otherwise, is reported.
func (w *wanderer) compareRoads(n *node) {
	if w.last == nil {
		return
	}
	key := roadKey{w.last.from.picture, w.last.act.text}
	now := arrival{w.last.from, w.last.act, n, w.road}
	first, seen := w.roads[key]
	if !seen {
		w.roads[key] = now
		return
	}
	if first.to == n || first.to.screen != n.screen || first.to.frame == nil || n.frame == nil || !first.to.frame.SameShape(n.frame) {
		return
	}
	if w.found["road "+n.screen.id()] {
		return
	}
	res := compare.Compare(first.to.frame.RGBA(), n.frame.RGBA(), compare.Options{})
	if res.Same || !drawnOtherwise(res) {
		return
	}
	w.reportRoad(n.screen, first.road, w.road, res.Causes[0].Says)
}

// drawnOtherwise reports whether every region of a difference is of the same content: moved by a pixel or
// two, or with other edges. (A toolkit that keeps glyphs rasterised for another size, or a layout that
// rounds by history, does that; user's data does not.)
func drawnOtherwise(res compare.Result) bool {
	if len(res.Regions) == 0 {
		return false
	}
	return !slices.ContainsFunc(res.Regions, func(r compare.Region) bool {
		switch r.Cause {
		case "edges":
			return false
		case "moved":
			return !small(r.Detail["dx"]) || !small(r.Detail["dy"])
		}
		return true
	})
}

func small(v any) bool {
	n, ok := v.(int)
	return ok && n >= -2 && n <= 2
}

// reportRoad shrinks both roads and reports them as one walk with a reset between.
func (w *wanderer) reportRoad(s *screen, first, second []act, says string) {
	// The last input of both stays, and what it leads to must still be of the same things.
	shows := func(a, b []act) bool {
		one, two := w.replayTo(texts(a)), w.replayTo(texts(b))
		if one == nil || two == nil || !one.SameShape(two) {
			return false
		}
		res := compare.Compare(one.RGBA(), two.RGBA(), compare.Options{})
		return !res.Same && drawnOtherwise(res)
	}
	last, lastOf := first[len(first)-1], second[len(second)-1]
	w.reportWith("road", s, fmt.Sprintf("the same input on the same picture led here by two roads: %s", says), second,
		func(budget *int) ([]string, int) {
			a, b := first, second
			if !shows(a, b) {
				return nil, 0
			}
			common := 0
			for common < len(a)-1 && common < len(b)-1 && a[common].text == b[common].text {
				common++
			}
			tailA, tailB := a[common:], b[common:]
			lead := w.shrink(a[:common], budget, func(road []act) bool { return shows(slices.Concat(road, tailA), slices.Concat(road, tailB)) })
			a, b = slices.Concat(lead, tailA), slices.Concat(lead, tailB)
			b = append(w.shrink(b[:len(b)-1], budget, func(road []act) bool { return shows(a, append(slices.Clone(road), lastOf)) }), lastOf)
			a = append(w.shrink(a[:len(a)-1], budget, func(road []act) bool { return shows(append(slices.Clone(road), last), b) }), last)
			return slices.Concat(texts(a), w.steady(s), []string{"reset"}, w.setup(), texts(b), w.steady(s)), len(a) + len(b)
		})
}

func (w *wanderer) steady(s *screen) []string {
	return []string{fmt.Sprintf("steady: {screen: %q}", s.id())}
}
