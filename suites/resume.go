package suites

import (
	"fmt"
	"slices"

	"github.com/fascia-bench/fascia/suites/record"
)

// finished is what a run keeps when it is taken up again: the walks that came to their end.
func finished(run *record.Run) (walks []record.Walk, looks []record.Look, expectations []record.Expectation) {
	walks, looks, expectations = []record.Walk{}, []record.Look{}, []record.Expectation{}
	kept := map[string]bool{}
	for _, w := range run.Walks {
		if w.Done && w.Why == "" {
			kept[w.Walk] = true
			walks = append(walks, w)
		}
	}
	for _, l := range run.Looks {
		if kept[l.Walk] {
			looks = append(looks, l)
		}
	}
	for _, e := range run.Expectations {
		if kept[e.Walk] {
			expectations = append(expectations, e)
		}
	}
	return walks, looks, expectations
}

// Resume leaves in the plan the walks that a broken run has not come to the end of. It refuses a run of
// another bench, of other walks, or of walks that have changed since.
func (p *Plan) Resume(run *record.Run) error {
	if run.Bench != p.Bench.Name || run.Target != p.Bench.Target {
		return fmt.Errorf("run %s was on bench %q for target %q; %s is %q for %q", run.Run, run.Bench, run.Target, p.Bench.File, p.Bench.Name, p.Bench.Target)
	}
	if run.Part != "" {
		var i, n int
		if _, err := fmt.Sscanf(run.Part, "%dof%d", &i, &n); err != nil {
			return fmt.Errorf("run %s calls itself part %q", run.Run, run.Part)
		}
		if err := p.Part(i, n); err != nil {
			return err
		}
	}
	then := map[string]record.Walk{}
	for _, w := range run.Walks {
		then[w.Walk] = w
	}
	var left, all []*Walk
	for _, w := range p.Walks {
		was, ok := then[w.Name]
		if !ok {
			continue // it was not asked for
		}
		if was.Hash != w.Hash {
			return fmt.Errorf("walk %q has changed since run %s: begin a new run", w.Name, run.Run)
		}
		all = append(all, w)
		if !was.Done || was.Why != "" {
			left = append(left, w)
		}
	}
	if len(all) != len(then) {
		for name := range then {
			if !slices.ContainsFunc(all, func(w *Walk) bool { return w.Name == name }) {
				return fmt.Errorf("walk %q of run %s is gone: begin a new run", name, run.Run)
			}
		}
	}
	if len(left) == 0 {
		return fmt.Errorf("run %s came to its end: there is nothing to take up", run.Run)
	}
	p.Walks, p.Hash = left, run.Plan
	return nil
}
