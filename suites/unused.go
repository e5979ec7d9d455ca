package suites

import (
	"github.com/fascia-bench/fascia/golden"
)

// Unused returns the goldens that no walk beside the bench asks for any more, of all targets: targets
// share the walks.
func Unused(p *Plan) ([]golden.Entry, error) {
	asked := map[[2]string]bool{}
	for _, w := range p.all {
		for _, l := range w.Looks() {
			asked[[2]string{w.Slug, l.File}] = true
		}
	}
	all, err := p.Store.Goldens()
	if err != nil {
		return nil, err
	}
	var out []golden.Entry
	for _, e := range all {
		walk, err := golden.FileName(e.Walk)
		if err != nil {
			return nil, err
		}
		look, err := golden.FileName(e.Look)
		if err != nil {
			return nil, err
		}
		if !asked[[2]string{walk, look}] {
			out = append(out, e)
		}
	}
	return out, nil
}
