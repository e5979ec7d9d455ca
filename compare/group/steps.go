package group

import (
	"fmt"
	"slices"

	"github.com/fascia-bench/fascia/compare"
)

// listSteps finds rows whose displacement grows from one to the next by the same amount: the step of a
// list. At least three rows must say so, since any two displacements differ by something.
func listSteps(all []*placed) {
	for axis := range 2 {
		type row struct {
			at, by int
			p      *placed
		}
		var rows []row
		for _, p := range all {
			dx, _ := p.r.Detail["dx"].(int)
			dy, _ := p.r.Detail["dy"].(int)
			if p.r.Cause != "moved" {
				continue
			}
			if axis == 0 && dx == 0 {
				rows = append(rows, row{p.r.Y, dy, p})
			} else if axis == 1 && dy == 0 {
				rows = append(rows, row{p.r.X, dx, p})
			}
		}
		slices.SortStableFunc(rows, func(a, b row) int { return a.at - b.at })
		// The displacements met, in order along the axis.
		var steps []int
		for _, r := range rows {
			if len(steps) == 0 || steps[len(steps)-1] != r.by {
				steps = append(steps, r.by)
			}
		}
		if len(steps) < 3 {
			continue
		}
		d := steps[1] - steps[0]
		even := d != 0
		for k := 1; k < len(steps); k++ {
			even = even && steps[k]-steps[k-1] == d
		}
		if !even {
			continue
		}
		name := [2]string{"y", "x"}[axis]
		for _, r := range rows {
			r.p.inSteps(name, d)
		}
	}
}

// furtherSteps gives rows that by themselves are too few to tell to the step of a list that other looks have:
// those displaced by a multiple of it.
func furtherSteps(all []*placed) {
	looks := map[[2]any]map[int]bool{}
	for _, p := range all {
		if step, ok := p.r.Detail["step"].(int); ok {
			k := [2]any{p.r.Detail["axis"], step}
			if looks[k] == nil {
				looks[k] = map[int]bool{}
			}
			looks[k][p.look] = true
		}
	}
	for k, on := range looks {
		if len(on) < 2 {
			continue
		}
		along, across := "dy", "dx"
		if k[0] == "x" {
			along, across = across, along
		}
		for _, p := range all {
			by, _ := p.r.Detail[along].(int)
			if off, _ := p.r.Detail[across].(int); p.r.Cause != "moved" || p.key != "" || off != 0 {
				continue
			}
			if step := k[1].(int); by%step == 0 && by/step >= 2 && by/step <= 10 {
				p.inSteps(k[0].(string), step)
			}
		}
		firstRows(all, k[0].(string), k[1].(int))
	}
}

// firstRows gives what is displaced by one step to the list on its look that stands after it and nowhere before.
func firstRows(all []*placed, axis string, step int) {
	along, across := "dy", "dx"
	at := func(r *Region) int { return r.Y }
	if axis == "x" {
		along, across = across, along
		at = func(r *Region) int { return r.X }
	}
	begins := map[int]int{}
	for _, p := range all {
		if p.r.Detail["step"] == step && p.r.Detail["axis"] == axis {
			if y, ok := begins[p.look]; !ok || at(p.r) < y {
				begins[p.look] = at(p.r)
			}
		}
	}
	for _, p := range all {
		by, _ := p.r.Detail[along].(int)
		off, _ := p.r.Detail[across].(int)
		if y, ok := begins[p.look]; ok && p.r.Cause == "moved" && p.key == "" && p.with == nil && by == step && off == 0 && at(p.r) < y {
			p.inSteps(axis, step)
		}
	}
}

func (p *placed) inSteps(axis string, step int) {
	p.r.Detail = compare.Detail{"axis": axis, "step": step}
	p.key = fmt.Sprint("moved", p.r.Detail)
}
