package group

import (
	"fmt"
	"image"
	"slices"

	"github.com/fascia-bench/fascia/compare"
)

// placed is a region and its look.
type placed struct {
	look int
	r    *Region
	key  string  // of its group; "" as long as it stands alone
	with *placed // what it is a part of, or nil
}

// fold puts regions into groups.
func (res *Result) fold(looks []look) {
	var all []*placed
	for i := range looks {
		l := looks[i].regions
		for k := range l {
			all = append(all, &placed{look: i, r: &l[k]})
		}
		listSteps(all[len(all)-len(l):])
		letters(all[len(all)-len(l):])
		crumbs(all[len(all)-len(l):])
		corners(all[len(all)-len(l):])
	}
	furtherSteps(all)
	blends(all)
	staleStrips(all)
	samePatch(all)
	for _, p := range all {
		if p.key == "" {
			p.key = p.byCause()
		}
	}
	alikeGone(all)
	for _, p := range all {
		if p.with != nil {
			p.key = p.with.key
		}
	}
	res.gather(all)
	res.rank(len(looks) - res.Same)
}

// textKey is the group of text that is drawn in another way.
const textKey = "edges of text"

// byCause is the key of causes whose figures say it all.
func (p *placed) byCause() string {
	r := p.r
	switch r.Cause {
	case "stale", "shade":
		return r.Cause
	case "moved", "recoloured":
		return fmt.Sprint(r.Cause, r.Detail)
	case "edges":
		if r.feat.text {
			return textKey
		}
		return "edges"
	case "text", "resized":
		// The same words in other letters.
		if r.feat.text && r.feat.alike >= 0.8 && !r.feat.cut && r.feat.massA*4 >= r.feat.massB*3 && r.feat.massB*4 >= r.feat.massA*3 {
			return textKey
		}
		if r.feat.cut && r.feat.text {
			return "cut short"
		}
	case "missing":
		if r.feat.cut {
			return "cut short"
		}
	case "added", "other":
	default:
		return fmt.Sprint(r.Cause, r.Detail)
	}
	return ""
}

// blends gives translucent shapes, and shades, to the recolouring of the colour that is mixed in them:
// what lies as far from its ground towards the first colour as it does now towards the second.
func blends(all []*placed) {
	looks := map[rule]map[int]bool{}
	ruleOf := func(r *Region) rule {
		from, _ := r.Detail["from"].(string)
		to, _ := r.Detail["to"].(string)
		return rule{unhex(from), unhex(to)}
	}
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

// letters: a letter by itself may be a ring or a mark as well, so of what has other edges only what stands
// in a row of its like is text.
func letters(all []*placed) {
	alone := map[*placed]bool{}
	for _, p := range all {
		if p.r.Cause != "edges" || !p.r.feat.text || p.r.feat.line || 2*p.r.W >= 3*p.r.H {
			continue
		}
		alone[p] = !slices.ContainsFunc(all, func(q *placed) bool {
			a, b := p.r, q.r
			gap := max(a.X-b.X-b.W, b.X-a.X-a.W)
			rows := min(a.Y+a.H, b.Y+b.H) - max(a.Y, b.Y)
			return p != q && b.feat.text && gap <= 2*min(a.H, b.H) && 2*rows >= min(a.H, b.H)
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
	rows, own := map[int]map[int]bool{}, map[[2]int]bool{} // looks by row; row and look
	for _, p := range all {
		if p.r.Cause != "stale" || p.r.H > 2 {
			continue
		}
		for y := p.r.Y; y < p.r.Y+p.r.H; y++ {
			if rows[y] == nil {
				rows[y] = map[int]bool{}
			}
			rows[y][p.look] = true
			own[[2]int{y, p.look}] = true
		}
	}
	for _, p := range all {
		if c := p.r.Cause; c != "other" && c != "added" && c != "missing" && c != "text" || p.r.H > 2 {
			continue
		}
		last := p.r.Y + p.r.H - 1
		if own[[2]int{p.r.Y, p.look}] && own[[2]int{last, p.look}] || p.r.W >= 8 && len(rows[p.r.Y]) >= 2 && len(rows[last]) >= 2 {
			p.r.Cause, p.r.Detail = "stale", compare.Detail{}
		}
	}
}

// samePatch: what looked alike before and looks alike after changed alike, whatever was thought of it
// in its surroundings.
func samePatch(all []*placed) {
	by := map[uint64][]*placed{}
	for _, p := range all {
		if p.key == "" && p.with == nil && p.r.feat.patch != 0 && p.r.Pixels >= 6 {
			by[p.r.feat.patch] = append(by[p.r.feat.patch], p)
		}
	}
	for hash, list := range by {
		votes := map[string]int{}
		looks := map[int]bool{}
		for _, p := range list {
			votes[p.r.Cause]++
			looks[p.look] = true
		}
		if len(list) < 2 {
			continue
		}
		cause, n := "", 0
		for c, k := range votes {
			if k > n || k == n && c < cause {
				cause, n = c, k
			}
		}
		k := slices.IndexFunc(list, func(p *placed) bool { return p.r.Cause == cause })
		lead := list[k].r
		for _, p := range list {
			p.r.Cause, p.r.Detail = cause, lead.Detail
		}
		if len(looks) < 2 {
			continue
		}
		if list[k].byCause() != "" || cause == "missing" || cause == "added" {
			continue // it is in a larger group anyway
		}
		for _, p := range list {
			p.key = fmt.Sprintf("patch %016x", hash)
		}
	}
}

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
			r.p.r.Detail = compare.Detail{"axis": name, "step": d}
			r.p.key = fmt.Sprint("moved", r.p.r.Detail)
		}
	}
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

// crumbs gives little that is left over to the larger change that it is a part of: rims within what is new or
// gone, and further words of a line that is cut short.
func crumbs(all []*placed) {
	for _, p := range all {
		for _, q := range all {
			if p != q && q.r.feat.line && !p.r.feat.line && (unsure(p.r.Cause) || p.r.Cause == "edges") && p.r.Pixels <= 6 && p.r.Rect().Overlaps(q.r.Rect().Inset(-6)) {
				p.r.Cause, p.r.Detail, p.r.feat = "edges", compare.Detail{}, q.r.feat // a dot or a stem of its letters
				break
			}
			if p == q || q.r.Cause != "missing" && q.r.Cause != "added" && q.r.Cause != "moved" {
				continue
			}
			little := p.r.Cause != q.r.Cause && p.r.Pixels <= 12 && q.r.Pixels >= 10*p.r.Pixels && p.r.Rect().In(q.r.Rect()) && q.r.Cause != "moved" ||
				unsure(p.r.Cause) && p.r.Pixels <= 6 && q.r.Pixels >= 10*p.r.Pixels && p.r.Rect().Overlaps(q.r.Rect().Inset(-2)) && q.r.Cause == "moved"
			words := p.r.Cause == "missing" && !p.r.feat.cut && q.r.feat.cut && p.r.H <= tallest && inLine(p.r.Rect(), q.r.Rect())
			if little {
				p.r.Cause, p.r.Detail, p.r.feat = q.r.Cause, q.r.Detail, q.r.feat
			}
			if words {
				p.r.feat.cut = true
			}
			if little || words {
				p.with = q
				break
			}
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
				p.r.Detail = compare.Detail{"axis": k[0], "step": step}
				p.key = fmt.Sprint("moved", p.r.Detail)
			}
		}
	}
}

// alikeGone joins what is gone, or new, in one colour on one ground and in about one place or size: a line
// of a chart, the label of a button. What is unexplained is never joined so.
func alikeGone(all []*placed) {
	type kind struct {
		cause string
		ink   uint32
	}
	leads := map[kind][]*placed{}
	n := 0
	for _, p := range all {
		if p.key != "" || p.with != nil || p.r.Cause != "missing" && p.r.Cause != "added" {
			continue
		}
		k := kind{p.r.Cause, p.r.feat.inkB}
		if p.r.Cause == "added" {
			k.ink = p.r.feat.inkA
		}
		for _, lead := range leads[k] {
			if alikePlaced(lead.r, p.r) {
				if lead.key == "" {
					n++
					lead.key = fmt.Sprintf("%s %d", p.r.Cause, n)
				}
				p.key = lead.key
				break
			}
		}
		if p.key == "" {
			leads[k] = append(leads[k], p)
		}
	}
}

func alikePlaced(a, b *Region) bool {
	near := func(x, y, slack int) bool { return x-y <= slack && y-x <= slack }
	switch {
	case near(a.W, b.W, 2) && near(a.H, b.H, 2):
		return true
	case near(a.X, b.X, 4) && near(a.W, b.W, max(4, a.W/10)):
		return true
	}
	return near(a.Y, b.Y, 4) && near(a.H, b.H, max(2, a.H/10)) && near(a.X, b.X, 8)
}

// gather makes the groups; what has no key stands alone, with what lies by it on its look.
func (res *Result) gather(all []*placed) {
	var order []string
	by := map[string][]*placed{}
	for _, p := range all {
		if p.key == "" {
			continue
		}
		if by[p.key] == nil {
			order = append(order, p.key)
		}
		by[p.key] = append(by[p.key], p)
	}
	for _, k := range order {
		g := groupOf(by[k])
		if len(g.Members) > 1 {
			res.Groups = append(res.Groups, g)
		} else {
			res.Single = append(res.Single, g)
		}
	}
	var heaps [][]*placed
	for _, p := range all {
		if p.key != "" {
			continue
		}
		home := -1
		for i := len(heaps) - 1; i >= 0 && heaps[i][0].look == p.look; i-- {
			if slices.ContainsFunc(heaps[i], func(q *placed) bool { return together(q.r, p.r) }) {
				if home < 0 {
					home = i
					heaps[i] = append(heaps[i], p)
				} else { // p joins two heaps
					heaps[i] = append(heaps[i], heaps[home]...)
					heaps = slices.Delete(heaps, home, home+1)
					home = i
				}
			}
		}
		if home < 0 {
			heaps = append(heaps, []*placed{p})
		}
	}
	for _, h := range heaps {
		res.Single = append(res.Single, groupOf(h))
	}
}

// together: unexplained parts of one look that lie near each other are one thing to look at.
func together(a, b *Region) bool {
	const by = 12
	return a.Rect().Inset(-by).Overlaps(b.Rect().Inset(-by))
}

func groupOf(list []*placed) Group {
	lead := list[0].r
	for _, p := range list {
		if p.r.Pixels > lead.Pixels {
			lead = p.r
		}
	}
	if list[0].key == textKey { // some letters changed so much that they read as others
		for _, p := range list {
			if p.r.Cause == "edges" {
				lead = p.r
				break
			}
		}
	}
	g := Group{Cause: lead.Cause, Detail: lead.Detail, Seen: No}
	if lead.Cause == "edges" || lead.Cause == "missing" || lead.Cause == "added" || lead.Cause == "resized" || lead.Cause == "stale" {
		g.Detail = compare.Detail{} // figures of one region are not those of all
	}
	for _, p := range list {
		if n := len(g.Members); n == 0 || g.Members[n-1].Look != p.look {
			g.Members = append(g.Members, Member{Look: p.look})
		}
		m := &g.Members[len(g.Members)-1]
		m.Regions = append(m.Regions, *p.r)
		if better(p.r.Seen, g.Seen) {
			g.Seen = p.r.Seen
		}
	}
	return g
}

func better(a, b Seen) bool {
	order := map[Seen]int{No: 0, Subtle: 1, Yes: 2}
	return order[a] > order[b]
}

func (g *Group) box() image.Rectangle {
	var b image.Rectangle
	for _, r := range g.Members[0].Regions {
		b = b.Union(r.Rect())
	}
	return b
}
