package wander

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/suites/wander/atlas"
)

const (
	patience = 20 * time.Second
	apart    = 250 * time.Millisecond
)

// What comes of walking a list of steps from a reset.
type outcome int

const (
	uneventful outcome = iota
	missed             // an expectation was missed
	gone               // the device restarted or hung
	refused            // a step could not be taken
)

// replay starts the device anew and walks the setup and these steps.
func (w *wanderer) replay(steps []string) outcome {
	if w.err != nil {
		return refused
	}
	if err := w.p.Begin(w.ctx); err != nil {
		if w.ctx.Err() != nil {
			w.err = w.ctx.Err()
		} else if errors.Is(err, link.ErrSilent) {
			w.err = err
		}
		return refused
	}
	for _, text := range slices.Concat(w.setup(), steps) {
		a, err := parse(text)
		if err != nil {
			return refused
		}
		w.replayed++
		switch err := w.p.Take(w.ctx, a.step); {
		case err == nil:
		case w.ctx.Err() != nil:
			w.err = w.ctx.Err()
			return refused
		case dead(err):
			return gone
		default:
			return refused
		}
	}
	if len(w.p.Missed) > 0 {
		return missed
	}
	return uneventful
}

// replayTo is the picture that steps lead to from a reset; nil where they lead nowhere.
func (w *wanderer) replayTo(steps []string) *capture.Frame {
	if w.replay(steps) != uneventful {
		return nil
	}
	l, err := w.dev.Look(w.ctx, link.LookOptions{Redraw: true})
	if err != nil {
		return nil
	}
	return l.Frame
}

// texts are a road's steps, each with what it takes to settle.
func texts(road []act) []string {
	var out []string
	for _, a := range road {
		out = append(out, a.text, "settle")
	}
	return out
}

// report makes a finding of a road whose end shows it.
func (w *wanderer) report(kind string, s *screen, says string, road []act) {
	end := func(road []act) []string {
		if kind == "redraw" {
			return append(texts(road), "redraw")
		}
		return texts(road)
	}
	want := missed
	if kind == "restart" || kind == "hang" {
		want = gone
	}
	w.reportWith(kind, s, says, road, func(budget *int) ([]string, int) {
		shows := func(road []act) bool { return w.replay(end(road)) == want }
		if !shows(road) {
			return nil, 0
		}
		road := w.shrink(road, budget, shows)
		steps := end(road)
		if kind != "redraw" {
			steps = append(steps, "redraw") // something to be met once the fault is gone: a walk of nothing has no verdict
		}
		return steps, len(road)
	})
}

// reportWith makes a finding, unless there is one of that kind on that screen. shrink returns the steps of
// its walk, and how many of them are inputs; none where the fault does not come about again.
func (w *wanderer) reportWith(kind string, s *screen, says string, road []act, shrink func(budget *int) ([]string, int)) {
	key := kind + " " + s.id()
	if w.found[key] {
		return
	}
	w.found[key] = true
	w.o.Tell(fmt.Sprintf("step %d: %s on screen %s: %s", w.steps, kind, s.title(), firstLine(says)))
	budget := w.o.Replays
	steps, inputs := shrink(&budget)
	w.at, w.last, w.before = nil, nil, nil // the device is at the end of some replay
	f := Finding{Finding: atlas.Finding{Kind: kind, Says: says, Screen: s.id(), Steps: inputs}, Path: len(road)}
	if steps != nil {
		f.Finding.Walk = fmt.Sprintf("wander-%s-%s.yaml", kind, s.title())
		f.Walk = w.walkText(f, s, steps)
		w.o.Tell(fmt.Sprintf("shrunk from %d inputs to %d: %s", f.Path, inputs, f.Finding.Walk))
	}
	w.findings = append(w.findings, f)
}

// again looks for one input that shows the fault when it is given several times over, on the screen where the
// road ends: what counts up hides in a road among much else. nil where none does, or none would be shorter.
func (w *wanderer) again(road []act, try func([]act) bool) []act {
	const times = 5
	if len(road) == 0 {
		return nil
	}
	at := road[len(road)-1].from
	if at == nil || len(road) <= len(at.road)+times {
		return nil
	}
	had := map[string]bool{}
	for _, list := range [][]act{road, w.vocabulary, w.keys} {
		for _, a := range list {
			if had[a.text] || w.effects(at, a).changed == 0 {
				continue
			}
			had[a.text] = true
			r := slices.Clone(at.road)
			for range times {
				r = append(r, a)
			}
			if try(r) {
				return r
			}
		}
	}
	return nil
}

// cutLoops leaves out what leads from a screen back to it: inputs that only make sense together.
func (w *wanderer) cutLoops(road []act, try func([]act) bool) []act {
	for size := len(road) - 1; size > 0; size-- {
		for at := 0; at+size < len(road); at++ {
			if road[at].from == nil || road[at].from != road[at+size].from {
				continue
			}
			if less := slices.Concat(road[:at], road[at+size:]); try(less) {
				return w.cutLoops(less, try)
			}
		}
	}
	return road
}

// shrink makes a road shorter that shows a fault, and keeps showing it: by the shortest known ways to the
// screens along it, then by leaving out ever smaller parts (delta debugging: Zeller and Hildebrandt,
// Simplifying and isolating failure-inducing input, IEEE Transactions on Software Engineering 28, 2002).
func (w *wanderer) shrink(road []act, budget *int, shows func([]act) bool) []act {
	try := func(r []act) bool {
		if *budget <= 0 || w.err != nil {
			return false
		}
		*budget--
		return shows(r)
	}
	for keep := 1; keep <= len(road); keep++ {
		at := road[len(road)-keep].from
		if at == nil || len(at.road)+keep >= len(road) {
			continue
		}
		if shorter := slices.Concat(at.road, road[len(road)-keep:]); try(shorter) {
			road = shorter
			break
		}
	}
	if len(road) > 0 && try(nil) {
		return nil
	}
	road = w.cutLoops(road, try)
	if again := w.again(road, try); again != nil {
		road = again
	}
	for parts := 2; len(road) > 0; {
		n := (len(road) + parts - 1) / parts
		cut := false
		for at := 0; at < len(road); at += n {
			less := slices.Concat(road[:at], road[min(at+n, len(road)):])
			if try(less) {
				road, cut = less, true
				parts = max(parts-1, 2)
				break
			}
		}
		if !cut {
			if n == 1 {
				break
			}
			parts = min(2*parts, len(road))
		}
	}
	return road
}
