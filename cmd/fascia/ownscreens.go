package main

import (
	"fmt"
	"image"
	"math/rand/v2"
	"path/filepath"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare/photo"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites"
)

// ownScreens draws goldens of the bench's target for the trials of its camera, by lot, but the same each time. Goldens that
// cannot be read are no reason not to align: there are made-up screens for the rest.
func (a *app) ownScreens(b *bench.Bench, size image.Point) (own []image.Image) {
	store, err := golden.Open(filepath.Join(b.Dir, suites.GoldenDir))
	var all []golden.Entry
	if err == nil {
		all, err = store.Goldens()
	}
	if err != nil {
		fmt.Fprintf(a.stderr, "fascia: warning: no golden serves as a trial: %v\n", err)
		return nil
	}
	rand.New(rand.NewPCG(1, 1)).Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	seen := map[string]bool{}
	for _, e := range all {
		if len(own) == photo.Trials {
			break
		}
		if e.Photo != "" {
			continue
		}
		m, _, err := store.Get(b.Target, e.Walk, e.Look)
		if err != nil || m.Bounds().Size() != size {
			continue
		}
		if hash := picture.Hash(m); !seen[hash] {
			seen[hash] = true
			own = append(own, m)
		}
	}
	return own
}
