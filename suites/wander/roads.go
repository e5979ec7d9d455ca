package wander

import (
	"fmt"
	"slices"

	"github.com/fascia-bench/fascia/suites"
)

// follow takes the inputs of walks, each from a reset: what their authors found, to be gone on from.
func (w *wanderer) follow() {
	walks := slices.Clone(w.o.Walks)
	w.rng.Shuffle(len(walks), func(i, j int) { walks[i], walks[j] = walks[j], walks[i] })
	for _, walk := range walks {
		if w.done() {
			return
		}
		if w.err = w.start(false); w.err != nil {
			return
		}
		w.followOne(walk)
	}
}

// followOne returns false where the walk does what wandering does not.
func (w *wanderer) followOne(walk *suites.Walk) bool {
	if walk.From != nil && !w.followOne(walk.From) {
		return false
	}
	for _, s := range walk.Steps {
		text, input := stepText(s.Do)
		if !input {
			continue
		}
		a, err := parse(text)
		if err != nil || w.done() || !w.do(a) {
			return false
		}
	}
	return true
}

// stepText writes an input as a walk has it; false for steps that are no input, or start the device anew,
// need a person or a host command.
func stepText(do suites.Action) (string, bool) {
	switch a := do.(type) {
	case suites.Tap:
		return fmt.Sprintf("tap: [%d, %d]", a.Spot.X, a.Spot.Y), true
	case suites.TapOn:
		return fmt.Sprintf("tap: {on: %q}", a.Name), true
	case suites.HoldTouch:
		return fmt.Sprintf("hold: {at: [%d, %d], for: %v}", a.Spot.X, a.Spot.Y, a.For), true
	case suites.Drag:
		return fmt.Sprintf("drag: {from: [%d, %d], to: [%d, %d], over: %v}", a.From.X, a.From.Y, a.To.X, a.To.Y, a.Over), true
	case suites.Key:
		names := ""
		for i, n := range a.Names {
			if i > 0 {
				names += ", "
			}
			names += fmt.Sprintf("%q", n)
		}
		return "key: [" + names + "]", true
	case suites.Type:
		return fmt.Sprintf("type: %q", a.Text), true
	case suites.Turn:
		return fmt.Sprintf("turn: {by: %d, knob: %d}", a.By, a.Knob), true
	case suites.Roll:
		return fmt.Sprintf("roll: %d", a.By), true
	case suites.Feed:
		return "feed: " + feedText(a), true
	case suites.Wait:
		return fmt.Sprintf("wait: %v", a.For), true
	}
	return "", false
}
