package wander

import (
	"fmt"
	"slices"
	"strings"

	"github.com/fascia-bench/fascia/capture/link"
)

const (
	rounds   = 4 // of a trip; the first may take what is kept for later
	maxTours = 1 // between two screens
	minTrips = 8 // to other screens, before a gauge without a telling name is judged
)

// A trip leads from a screen to another and back, and was made several times in a row.
type trip struct {
	screen *screen
	road   []act // to where it starts
	to, fr act   // there and back
	via    *screen
	figure map[string][]int64 // of each gauge, at the start and after each round
}

// measureTrip makes a round trip several times in a row and reads the gauges after each round: one that
// was just made, or on a twin one whose way back is known.
func (w *wanderer) measureTrip(n *node) {
	if w.last == nil || w.last.from.screen == n.screen || !w.h.Has(link.CanList) {
		return
	}
	from := w.last.from.screen
	w.backs[[2]*screen{from, n.screen}] = w.last.act
	if w.before != nil && w.before.from.screen == n.screen {
		w.tour(trip{screen: n.screen, road: w.road[:len(w.road)-2], to: w.before.act, fr: w.last.act, via: from}, false)
	} else if home, ok := w.backs[[2]*screen{n.screen, from}]; ok {
		w.tour(trip{screen: from, road: w.road[:len(w.road)-1], to: w.last.act, fr: home, via: n.screen}, true)
	}
}

// tour walks a trip's rounds, unless there were enough between these screens, and comes back to where the
// device is: at the start of the trip, or away, with the way back to go first.
func (w *wanderer) tour(t trip, away bool) {
	t.figure = map[string][]int64{}
	key := t.screen.group() + " " + t.via.group()
	if w.rounds[key] >= maxTours {
		return
	}
	back, err := w.dev.Branch()
	if err != nil {
		w.err = err
		return
	}
	if away && back == nil {
		return // a board would have to come here again
	}
	w.rounds[key]++
	name := w.name
	whole := true
	if away {
		w.steps++
		whole = w.p.Take(w.ctx, t.fr.step) == nil && w.p.Take(w.ctx, settle) == nil
	}
	if whole {
		w.name = t.screen.name
		whole = w.walkRounds(&t)
		w.name = name
	}
	switch {
	case w.err != nil:
		return
	case back == nil:
		w.at = nil // somewhere near; the next path starts anew
	default:
		if err := back(); err != nil {
			w.err = err
			return
		}
		w.p.Back()
	}
	if whole {
		w.trips = append(w.trips, t)
		w.judgeTrips()
	}
}

// walkRounds makes the rounds; false where one does not come back to the screen, or ends the device.
func (w *wanderer) walkRounds(t *trip) bool {
	for i := range rounds + 1 {
		figures, err := w.p.Gauges(w.ctx)
		if err != nil {
			return false
		}
		for name, v := range figures {
			t.figure[name] = append(t.figure[name], v)
		}
		if i == rounds {
			break
		}
		for _, a := range []act{t.to, t.fr} {
			w.steps++
			if w.p.Take(w.ctx, a.step) != nil || w.p.Take(w.ctx, settle) != nil {
				return false
			}
		}
		shot, err := w.dev.Look(w.ctx, link.LookOptions{})
		if err != nil || w.screenOf(shot.Frame) != t.screen {
			return false
		}
	}
	return true
}

// drift is 1 or -1 where a gauge went one way at every round after the first, else 0.
func (t trip) drift(gauge string) int {
	f := t.figure[gauge]
	if len(f) != rounds+1 {
		return 0
	}
	way := 0
	for i := 2; i < len(f); i++ {
		switch {
		case f[i] > f[i-1] && way >= 0:
			way = 1
		case f[i] < f[i-1] && way <= 0:
			way = -1
		default:
			return 0
		}
	}
	return way
}

// judgeTrips looks for gauges that go one way on trips to one screen. One that does so wherever the trip
// leads is a counter, and meant to; unless its name says that it tells what is free, or taken.
func (w *wanderer) judgeTrips() {
	names := map[string]bool{}
	for _, t := range w.trips {
		for name := range t.figure {
			names[name] = true
		}
	}
	for _, name := range sorted(names) {
		var drifting []trip
		for _, t := range w.trips {
			if t.drift(name) != 0 {
				drifting = append(drifting, t)
			}
		}
		for _, t := range drifting {
			telling := strings.Contains(name, "free") && t.drift(name) < 0 ||
				(strings.Contains(name, "used") || strings.Contains(name, "heap") && !strings.Contains(name, "free")) && t.drift(name) > 0
			if telling || w.ownTo(t.via, name) {
				w.reportLeak(t, name)
			}
		}
	}
}

// ownTo reports whether a gauge goes one way on trips to a screen, and on no other trips, of which there
// are enough to say so.
func (w *wanderer) ownTo(via *screen, gauge string) bool {
	others := 0
	for _, t := range w.trips {
		if t.via == via || t.screen == via {
			continue
		}
		if others++; t.drift(gauge) != 0 {
			return false
		}
	}
	return others >= minTrips
}

func (w *wanderer) reportLeak(t trip, gauge string) {
	f := t.figure[gauge]
	loop := slices.Concat(texts([]act{t.to, t.fr}), []string{fmt.Sprintf("steady: {gauge: %q}", gauge)})
	walk := func(road []act) []string { return slices.Concat(texts(road), loop, loop, loop) }
	says := fmt.Sprintf("gauge %s went from %d to %d in %d rounds of %s and %s", gauge, f[1], f[rounds], rounds-1, t.to.says(), t.fr.says())
	w.reportWith("leak", t.via, says, append(slices.Clone(t.road), t.to, t.fr), func(budget *int) ([]string, int) {
		shows := func(road []act) bool { return w.replay(walk(road)) == missed }
		if !shows(t.road) {
			return nil, 0
		}
		road := w.shrink(t.road, budget, shows)
		return walk(road), len(road) + 2
	})
}
