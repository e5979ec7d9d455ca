package group

import "fmt"

// Text drawn with other edges and moved text look alike where little of either is seen: which of the two a few letters are
// is told by which of the two the looks have.

// respaced gives letters that stand a little elsewhere in lines that are drawn with other edges to these: another
// hinting spaces them otherwise. A displacement that more than one in ten of the looks with such lines have is a change
// of its own.
func respaced(all []*placed) {
	drawn, by := map[int]bool{}, map[string]map[int]bool{}
	isDrawn := func(p *placed) bool { return p.r.Cause == "edges" && p.r.feat.text }
	for _, p := range all {
		if isDrawn(p) {
			drawn[p.look] = true
		} else if p.r.Cause == "moved" {
			k := fmt.Sprint(p.r.Detail)
			if by[k] == nil {
				by[k] = map[int]bool{}
			}
			by[k][p.look] = true
		}
	}
	byLook := looksOf(all)
	for _, p := range all {
		if p.r.Cause != "moved" || p.key != "" || 10*len(by[fmt.Sprint(p.r.Detail)]) > len(drawn) {
			continue
		}
		for _, q := range byLook[p.look] {
			if isDrawn(q) && q.with == nil && inLine(p.r.Rect(), q.r.Rect()) {
				p.join(q)
				break
			}
		}
		dx, _ := p.r.Detail["dx"].(int)
		if q := drawnText(byLook[p.look]); p.with == nil && q != nil && p.r.Detail["dy"] == 0 && max(dx, -dx) <= 2 && p.r.feat.beside {
			p.join(q) // some letters of a word whose others stayed
		}
	}
}

// redrawnByChance gives what reads as drawn with other edges to the moved text that it lies on, where fewer than one in ten
// of the looks with moved content have such lines: letters of which a part was moved under a strip read so.
func redrawnByChance(all []*placed) {
	drawn, moved := map[int]bool{}, map[int]bool{}
	for _, p := range all {
		switch {
		case p.r.Cause == "edges" && p.r.feat.text && p.with == nil:
			drawn[p.look] = true
		case p.r.Cause == "moved":
			moved[p.look] = true
		}
	}
	if 10*len(drawn) > len(moved) {
		return
	}
	byLook := looksOf(all)
	for _, p := range all {
		if p.r.Cause != "edges" || !p.r.feat.text || p.with != nil {
			continue
		}
		for _, q := range byLook[p.look] {
			if q.r.Cause == "moved" && q.with == nil && q.r.Pixels >= p.r.Pixels && p.r.Rect().Overlaps(q.r.Rect().Inset(-2)) {
				key := q.key
				p.join(q)
				p.key = key
				break
			}
		}
	}
}
