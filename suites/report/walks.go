package report

import "github.com/fascia-bench/fascia/suites/record"

// A walkOf is a walk with what the record holds of it elsewhere.
type walkOf struct {
	record.Walk
	looks    []record.Look
	at       []int // the looks' places in the run
	expected []record.Expectation
}

// walksOf puts looks and expectations with their walks. A look of a walk that the record does not
// list (it was cut off while the walk went on) gets a walk of its own, so that nothing is lost.
func walksOf(run *record.Run) []*walkOf {
	var out []*walkOf
	byName := map[string]*walkOf{}
	add := func(w record.Walk) *walkOf {
		x := &walkOf{Walk: w}
		out = append(out, x)
		if byName[w.Walk] == nil {
			byName[w.Walk] = x
		}
		return byName[w.Walk]
	}
	for _, w := range run.Walks {
		add(w)
	}
	find := func(name string) *walkOf {
		if w := byName[name]; w != nil {
			return w
		}
		return add(record.Walk{Walk: name})
	}
	for i, l := range run.Looks {
		w := find(l.Walk)
		w.looks, w.at = append(w.looks, l), append(w.at, i)
	}
	for _, e := range run.Expectations {
		w := find(e.Walk)
		w.expected = append(w.expected, e)
	}
	for _, w := range out {
		w.Looks = max(w.Looks, len(w.looks))
	}
	return out
}
