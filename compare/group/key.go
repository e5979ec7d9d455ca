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
		own := all[len(all)-len(l):]
		letters(own)
		inTear(own)
		boxes(own)
		inBox(own)
		crumbs(own)
		corners(own)
		inLines(own)
		chances(own)
	}
	furtherSteps(all)
	blends(all)
	rims(all)
	respaced(all)
	redrawnByChance(all)
	strokes(all)
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
	case "text", "resized", "other":
		if before, ok := r.Detail["before"]; ok { // pictures of two sizes, with nothing to hold against each other
			return fmt.Sprint("size", before, r.Detail["after"])
		}
		// The same words in other letters.
		if r.feat.text && r.feat.alike >= 0.8 && !r.feat.cut && r.feat.massA*4 >= r.feat.massB*3 && r.feat.massB*4 >= r.feat.massA*3 {
			return textKey
		}
		if r.feat.cut && r.feat.text && r.Cause != "other" {
			return "cut short"
		}
	case "missing":
		if r.feat.cut {
			return "cut short"
		}
	case "added":
	default:
		return fmt.Sprint(r.Cause, r.Detail)
	}
	return ""
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
		moves := map[string]bool{} // displacements found
		looks := map[int]bool{}
		for _, p := range list {
			votes[p.r.Cause]++
			looks[p.look] = true
			if p.r.Cause == "moved" {
				moves[fmt.Sprint(p.r.Detail)] = true
			}
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
		if cause == "moved" && len(moves) > 1 {
			continue // a line is the same wherever it went
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
