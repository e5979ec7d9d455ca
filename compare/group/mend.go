package group

import (
	"slices"

	"github.com/fascia-bench/fascia/compare"
)

// blends gives translucent shapes, and shades, to the recolouring of the colour that is mixed in them:
// what lies as far from its ground towards the first colour as it does now towards the second.
func blends(all []*placed) {
	looks := map[rule]map[int]bool{}
	for _, p := range all {
		if p.r.Cause == "recoloured" {
			r := ruleOf(p.r)
			if looks[r] == nil {
				looks[r] = map[int]bool{}
			}
			looks[r][p.look] = true
		}
	}
	type change struct {
		r    *Region
		rule rule
	}
	var todo []change
	for _, p := range all {
		f := p.r.feat
		own := rule{f.inkB, f.inkA}
		if p.r.Cause == "recoloured" {
			own = ruleOf(p.r)
		} else if p.r.Cause != "shade" {
			continue
		}
		best, most := rule{}, len(looks[own])
		for r, on := range looks {
			if len(on) <= most || !on[p.look] && p.r.Cause == "shade" {
				continue
			}
			u, offU := way(own.from, f.ground, r.from)
			v, offV := way(own.to, f.ground, r.to)
			if d := u - v; offU <= 9 && offV <= 9 && d <= 0.1 && d >= -0.1 && u >= 0.03 {
				best, most = r, len(on)
			}
		}
		if best != (rule{}) {
			todo = append(todo, change{p.r, best})
		}
	}
	for _, c := range todo {
		c.r.Cause, c.r.Detail = "recoloured", compare.Detail{"from": hex(c.rule.from), "to": hex(c.rule.to)}
	}
}

// ruleOf gives the colours of a recolouring.
func ruleOf(r *Region) rule {
	from, _ := r.Detail["from"].(string)
	to, _ := r.Detail["to"].(string)
	return rule{unhex(from), unhex(to)}
}

// letters: a letter by itself may be a ring or a mark as well, so of what has other edges only what stands
// in a row of its like is text; on a look with lines that are drawn otherwise also what stands in a word.
func letters(all []*placed) {
	alone := map[*placed]bool{}
	drawn := slices.ContainsFunc(all, func(p *placed) bool { return p.r.Cause == "edges" && p.r.feat.line })
	for _, p := range all {
		if p.r.Cause != "edges" || !p.r.feat.text || p.r.feat.line || drawn && p.r.feat.beside || 2*p.r.W >= 3*p.r.H {
			continue
		}
		alone[p] = !slices.ContainsFunc(all, func(q *placed) bool {
			a, b := p.r, q.r
			gap := max(a.X-b.X-b.W, b.X-a.X-a.W)
			rows := min(a.Y+a.H, b.Y+b.H) - max(a.Y, b.Y)
			near := gap <= 2*min(a.H, b.H) || b.feat.line && a.figureOf(b)
			return p != q && b.feat.text && near && 2*rows >= min(a.H, b.H)
		})
	}
	for p, is := range alone {
		if is {
			p.r.feat.text = false
		}
	}
}

// staleStrips: in a row that several looks have not redrawn, an unexplained strip is of that kind, too, and so
// is a stretch of a row that was not redrawn elsewhere on the same look; what it shows stood there between looks.
func staleStrips(all []*placed) {
	rows, own, px := map[int]int{}, map[[2]int]bool{}, map[[2]int]int{} // looks by row; row and look
	for _, p := range all {
		if p.r.Cause != "stale" || p.r.H > 2 {
			continue
		}
		for _, q := range p.r.mask {
			k := [2]int{int(q.y), p.look}
			own[k] = true
			n := px[k]
			if px[k] += int(q.x1 - q.x0); n < stripPixels && px[k] >= stripPixels {
				rows[k[0]]++
			}
		}
	}
	for _, p := range all {
		c, last := p.r.Cause, p.r.Y+p.r.H-1
		if rim := c == "edges" && !p.r.feat.line && p.r.Pixels <= 2; !unsure(c) && c != "added" && c != "missing" && c != "recoloured" && !rim || p.r.H > 2 {
			continue
		}
		if own[[2]int{p.r.Y, p.look}] && own[[2]int{last, p.look}] || c != "edges" && p.r.W >= 8 && rows[p.r.Y] >= 2 && rows[last] >= 2 {
			p.r.Cause, p.r.Detail = "stale", compare.Detail{}
		}
	}
}

// strokes: what has other edges and was not found to be text is text all the same, where text is drawn otherwise and there is
// nothing that is clearly no text: a shape larger than letters, the corners of one, or a mark on a look without such text.
func strokes(all []*placed) {
	drawn := map[int]bool{}
	for _, p := range all {
		if p.r.Cause == "edges" && p.r.feat.text {
			drawn[p.look] = true
		}
	}
	byLook := looksOf(all)
	var doubt []*placed
	for _, p := range all {
		if p.r.Cause != "edges" || p.r.feat.text || p.with != nil {
			continue
		}
		if !drawn[p.look] || max(p.r.W, p.r.H) > tallest || p.atCorner(byLook[p.look]) {
			return
		}
		doubt = append(doubt, p)
	}
	for _, p := range doubt {
		p.r.feat.text = true
	}
}

// atCorner reports whether one of about the same size stands beside a region and one above or below it, as corners do.
func (p *placed) atCorner(own []*placed) bool {
	near := func(a, b, by int) bool { return a-b <= by && b-a <= by }
	beside, above := false, false
	for _, q := range own {
		a, b := p.r, q.r
		if p == q || b.Cause != "edges" || b.feat.text || !near(a.W, b.W, 3) || !near(a.H, b.H, 3) {
			continue
		}
		beside = beside || near(a.Y, b.Y, 1) && !near(a.X, b.X, 1)
		above = above || near(a.X, b.X, 1) && !near(a.Y, b.Y, 1)
	}
	return beside && above
}

// corners finds the corners of shapes that are rounded otherwise: little squares of one size, one beside and one above
// or below the other, that mirror each other and so are not alike, as icons in a grid are.
func corners(all []*placed) {
	near := func(a, b int) bool { return a-b <= 1 && b-a <= 1 }
	is := func(r *Region) bool {
		return (unsure(r.Cause) || r.Cause == "edges") && max(r.W, r.H) <= 20 && r.W-r.H <= 3 && r.H-r.W <= 3 && !r.feat.line
	}
	var found []*placed
	for _, p := range all {
		if !is(p.r) || p.r.Cause == "edges" {
			continue
		}
		beside, above := false, false
		for _, q := range all {
			a, b := p.r, q.r
			if p == q || !is(b) || max(a.W-b.W, b.W-a.W, a.H-b.H, b.H-a.H) > 3 || a.feat.patch == b.feat.patch {
				continue
			}
			beside = beside || near(a.Y, b.Y) && !near(a.X, b.X)
			above = above || near(a.X, b.X) && !near(a.Y, b.Y)
		}
		if beside && above {
			found = append(found, p)
		}
	}
	for _, p := range found {
		p.r.Cause, p.r.Detail, p.r.feat.text = "edges", compare.Detail{}, false
		if p.r.Seen == Yes {
			p.r.Seen = Subtle
		}
	}
}
