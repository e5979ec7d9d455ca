package wander

import (
	"errors"
	"strings"

	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/wander/atlas"
)

var settle = func() suites.Step {
	a, err := parse("settle")
	if err != nil {
		panic(err) // a constant text
	}
	return a.step
}()

const (
	maxNodes  = 6    // pictures of a screen that are kept to go back to
	sameName  = 0.75 // two pictures that the firmware calls by one name are one screen up to this difference
	maxMore   = 24   // further pictures of a screen that are handed on
	muchMore  = 0.1  // and how much they differ from each other
	maxFrames = 600  // pictures that are kept to be compared
	maxOthers = 64   // hashes of a screen's other pictures
)

// do gives an input and judges what comes of it. It returns false where the device does not take the input,
// or is not to be used further: then at is nil.
func (w *wanderer) do(a act) bool {
	w.steps++
	from := w.at
	from.screen.tried[a.text]++
	e := w.effects(from.screen, a)
	e.tried++
	w.before, w.last = w.last, &arrival{from: from, act: a}
	w.p.Missed = nil
	err := w.p.Take(w.ctx, a.step)
	refused := err != nil && !dead(err)
	if err == nil {
		err = w.p.Take(w.ctx, settle)
	}
	if refused {
		w.last, w.before = nil, nil
		return false
	}
	w.road = extend(w.road, a, from.screen)
	if err != nil {
		w.died(from, err)
		return false
	}
	if len(w.p.Missed) > 0 && !w.animation() {
		w.report("unsettled", from.screen, w.p.Missed[0].Why, w.road)
		w.at = nil
		return false
	}
	w.arrive(from)
	if w.at == nil || w.err != nil {
		return false
	}
	if w.at != from {
		e.changed++
	}
	w.ways[[3]string{from.screen.id(), a.says(), w.at.screen.id()}]++
	return true
}

// dead tells errors by which a device says that it is gone from those by which it refuses.
func dead(err error) bool {
	var restarted *link.RestartError
	return errors.As(err, &restarted) || errors.Is(err, link.ErrSilent) || strings.Contains(err.Error(), "restarted")
}

// died reports a restart or a hang, and starts the device anew.
func (w *wanderer) died(from *node, err error) {
	if w.ctx.Err() != nil {
		w.err = w.ctx.Err()
		return
	}
	kind := "restart"
	says := err.Error()
	for _, l := range w.p.Lines() {
		if strings.Contains(l.Text, "panic") || strings.Contains(l.Text, "twin: ") {
			says = l.Text
		}
		if strings.Contains(l.Text, "hung") {
			kind = "hang"
		}
	}
	if errors.Is(err, link.ErrSilent) {
		kind = "hang"
	}
	w.report(kind, from.screen, says, w.road)
	w.at = nil
	if kind == "hang" && w.dev.HasPower() {
		if err := w.dev.PowerCycle(w.ctx, patience); err != nil {
			w.err = err
		}
	}
}

// animation reports whether what keeps the screen moving is a small animation that cannot be held, and
// takes its cells out of account. With the clock held nothing endless may move.
func (w *wanderer) animation() bool {
	if w.hold {
		return false
	}
	var first atlas.Signature
	moved := map[int]bool{}
	for i := range 4 {
		shot, err := w.dev.Look(w.ctx, link.LookOptions{})
		if err != nil {
			return false
		}
		sign := atlas.Sign(shot.Frame.RGBA())
		if i == 0 {
			first = sign
		}
		for _, c := range sign.Differ(first) {
			moved[c] = true
		}
		if err := w.dev.Wait(w.ctx, apart); err != nil {
			return false
		}
	}
	if len(moved) == 0 || len(moved)*10 > first.Cells() {
		return false
	}
	for c := range moved {
		w.screenFor(first).still[c] = true
	}
	return true
}

// arrive looks at where the device is now, and holds a full redraw against it.
func (w *wanderer) arrive(from *node) {
	w.at = nil
	back, err := w.dev.Branch()
	if err != nil {
		w.err = err
		return
	}
	for _, l := range w.p.Lines() {
		if name, ok := named(w.o.Names, l.Text); ok {
			w.name = name
		}
	}
	v, err := w.view()
	if err != nil {
		w.lost(from, err)
		return
	}
	key := pictureKey{v.redrawnHash, w.name}
	s := w.byHash[key]
	if s == nil || len(s.still) > 0 || w.nodes[v.redrawnHash] == nil {
		if err := w.fetch(&v); err != nil {
			w.lost(from, err)
			return
		}
	}
	if s == nil {
		s = w.screenOf(v.redrawn)
		w.byHash[key] = s
	}
	hash := v.redrawnHash
	if len(s.still) > 0 {
		hash = atlas.Sign(v.redrawn.RGBA()).Without(s.still)
	}
	if s.seen++; s.seen == 1 {
		s.targets = w.targets()
	}
	if s.road == nil || len(w.road) < len(s.road) {
		s.road = w.road
	}
	if _, seen := s.pictures[hash]; !seen {
		s.pictures[hash] = ""
		if len(s.pictures) <= maxOthers {
			s.pictures[hash] = picture.Hash(v.redrawn.RGBA())
		}
	}
	n := w.nodes[hash]
	if n == nil {
		s.keep(v.redrawn)
		n = &node{picture: hash, name: w.name, screen: s, road: w.road, back: back}
		if len(w.nodes) < maxFrames {
			n.frame = v.redrawn
		}
		w.nodes[hash] = n
		if len(s.nodes) < maxNodes {
			s.nodes = append(s.nodes, n)
		} else if i := w.rng.IntN(4 * maxNodes); i < maxNodes && i > 0 { // the first, with the shortest road, stays
			s.nodes[i].back = nil
			s.nodes[i] = n
		} else {
			n.back = nil // memory: a twin's moment is half a megabyte
		}
	} else if len(w.road) < len(n.road) {
		n.road = w.road
		if n.back != nil {
			n.back = back
		}
	}
	w.at = n
	if v.flushedHash != v.redrawnHash {
		if says := w.stale(v, back, s); says != "" {
			w.report("redraw", s, says, w.road)
			w.at = nil
			return
		}
	}
	if back != nil { // the redraw healed what it covered: walks do not redraw
		if err := back(); err != nil {
			w.err = err
			return
		}
		w.p.Back()
	}
	if from != nil {
		w.compareRoads(n)
		if w.at != nil && w.err == nil {
			w.measureTrip(n)
		}
	}
}

// lost is what to do about a look that failed.
func (w *wanderer) lost(from *node, err error) {
	if from != nil && dead(err) {
		w.died(from, err)
		return
	}
	if errors.Is(err, link.ErrMoving) && from != nil {
		w.report("unsettled", from.screen, err.Error(), w.road)
		return
	}
	w.err = err
}
