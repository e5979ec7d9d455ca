package suites

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"
)

// TimesFile is a file in the folder of the walks that says how long walks take, in seconds by name. People write it, and
// commit it, since all parts of a run must be cut by the same figures.
const TimesFile = "took.json"

// Part leaves in the plan the i-th of n parts, i from 1. The parts are balanced by the recorded times,
// or where there are none by what the steps wait for, and are the same on every machine that has the
// same files.
func (p *Plan) Part(i, n int) error {
	if n < 1 || i < 1 || i > n {
		return fmt.Errorf("part %d of %d: parts are counted from 1", i, n)
	}
	parts, err := p.split(n)
	if err != nil {
		return err
	}
	if len(parts[i-1]) == 0 {
		return fmt.Errorf("part %d of %d is empty: there are %d walks", i, n, len(p.Walks))
	}
	p.Walks, p.PartName = parts[i-1], fmt.Sprintf("%dof%d", i, n)
	return nil
}

// split deals the walks out, the longest first, each to the part that has the least so far.
func (p *Plan) split(n int) ([][]*Walk, error) {
	took, err := p.times()
	if err != nil {
		return nil, err
	}
	weight := func(w *Walk) float64 {
		if t, ok := took[w.Name]; ok {
			return t
		}
		return w.Estimate().Seconds()
	}
	order := slices.Clone(p.Walks)
	slices.SortStableFunc(order, func(a, b *Walk) int {
		return cmp.Or(cmp.Compare(weight(b), weight(a)), cmp.Compare(a.Slug, b.Slug))
	})
	part := map[*Walk]int{}
	load := make([]float64, n)
	for _, w := range order {
		least := 0
		for k := range load {
			if load[k] < load[least] {
				least = k
			}
		}
		part[w] = least
		load[least] += weight(w)
	}
	parts := make([][]*Walk, n)
	for _, w := range p.Walks {
		parts[part[w]] = append(parts[part[w]], w)
	}
	return parts, nil
}

func (p *Plan) times() (map[string]float64, error) {
	file := filepath.Join(p.Bench.Dir, WalksDir, TimesFile)
	data, err := os.ReadFile(file)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var took map[string]float64
	if err := json.Unmarshal(data, &took); err != nil {
		return nil, fmt.Errorf("%s: expected seconds by the names of walks, as {\"bed lamp\": 12.5}: %w", file, err)
	}
	return took, nil
}

// Estimate is what a walk's steps wait for, and a little for each of them.
func (w *Walk) Estimate() time.Duration {
	d := 2 * time.Second // to boot
	if w.From != nil {
		d = w.From.Estimate()
	}
	for _, s := range w.Steps {
		d += 50 * time.Millisecond
		switch a := s.Do.(type) {
		case Wait:
			d += a.For
		case Settle:
			d += a.Still
		case TakeLook:
			d += a.Settle.Still + 100*time.Millisecond
		case ResetDevice:
			d += 2 * time.Second
		default:
			for _, e := range events(a) {
				d += e.After
			}
		}
	}
	return d
}

// planHash is of all walks of a plan, before it is cut into parts: parts of one run share it.
func planHash(walks []*Walk) string {
	h := sha256.New()
	for _, w := range walks {
		fmt.Fprintf(h, "%q %s\n", w.Name, w.Hash)
	}
	return hex.EncodeToString(h.Sum(nil))[:16]
}

// What a look moves over the link, in bytes both ways: one whose picture is the golden's (measured, and
// held by a test of package twin), and a whole new screen (the median of UI screens, measured by bench cost).
const (
	LookBytes    = 38
	NewLookBytes = 4500
)

// Approved counts the looks of a walk and those that have a golden.
func (p *Plan) Approved(w *Walk) (looks, approved int) {
	for _, l := range w.Looks() {
		looks++
		if _, _, err := p.Store.Get(p.Bench.Target, w.Name, l.Name); err == nil {
			approved++
		}
	}
	return looks, approved
}
