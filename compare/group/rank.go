package group

import (
	"cmp"
	"math"
	"slices"
)

// suspicion is how likely a cause is a defect, before its figures are looked at; restyling is what a new
// version of a drawing library is expected to bring (common practice, no source).
var suspicion = map[string]float64{
	"torn": 100, "blank": 98, "stale": 95, "byte-swapped": 95, "red-blue-swapped": 95, "inverted": 95, "rotated": 93, "mirrored": 93,
	"sheared": 95, "shifted": 90, "rescaled": 90, "fewer-colours": 85, "missing": 80, "other": 70, "text": 62, "added": 58,
	"tone": 60, "resized": 45, "recoloured": 32, "moved": 30, "edges": 18, "shade": 10,
}

// rank orders groups and singles and names them. differing is how many looks differ.
func (res *Result) rank(differing int) {
	var all []*Group
	for _, list := range [][]Group{res.Groups, res.Single} {
		for i := range list {
			g := &list[i]
			g.score = g.defect(differing)
			g.Says = g.says()
			all = append(all, g)
		}
	}
	slices.SortStableFunc(all, func(a, b *Group) int {
		if c := cmp.Compare(b.score, a.score); c != 0 {
			return c
		}
		return cmp.Compare(a.Members[0].Look, b.Members[0].Look)
	})
	for i, g := range all {
		g.Rank = i + 1
	}
	byRank := func(a, b Group) int { return a.Rank - b.Rank }
	slices.SortFunc(res.Groups, byRank)
	slices.SortFunc(res.Single, byRank)
}

// defect scores a group: the higher, the likelier it is that nobody meant it.
func (g *Group) defect(differing int) float64 {
	score, ok := suspicion[g.Cause]
	if !ok {
		score = 70
	}
	var cut, lost, novel, share float64
	n := 0
	for _, m := range g.Members {
		for _, r := range m.Regions {
			n++
			f := r.feat
			if f.cut {
				cut++
			}
			if f.groundTo || r.Cause == "missing" {
				lost++
			}
			if f.novel >= 0.25 && r.W >= 8 && r.H >= 8 {
				novel += f.novel
			}
			share = math.Max(share, f.share)
		}
	}
	many := float64(n)
	// Text that ends before it did is clipped; a shape that took the colour of its surroundings is lost.
	if (g.Cause == "text" || g.Cause == "other" || g.Cause == "resized" || g.Cause == "missing") && cut*2 >= many {
		score += 18
	}
	if g.Cause == "recoloured" && lost*2 >= many {
		score = math.Max(score, 78)
	}
	// A colour that the screen did not have, over a good part of what changed: a box behind text, or a
	// wrong fill.
	if g.Cause == "added" || g.Cause == "other" || g.Cause == "recoloured" || g.Cause == "text" {
		score += 16 * math.Min(1, novel/many*1.5)
	}
	// Ground that has become much darker or lighter, behind what stands there: text on a black box.
	lead := g.Members[0].Regions[0]
	for _, m := range g.Members {
		for _, r := range m.Regions {
			if r.Pixels > lead.Pixels {
				lead = r
			}
		}
	}
	if g.Cause == "added" && lead.feat.swamped >= 0.4 && lead.H >= 8 && step(lead.feat.inkA, lead.feat.ground) >= 128 {
		score += 20
	}
	// What is on one look only is no style; what most looks have is.
	if len(g.Members) == 1 {
		score += 8
	} else if differing > 0 && score < 90 {
		score -= 25 * float64(len(g.Members)) / float64(differing)
		score -= 2 * math.Log2(float64(len(g.Members)))
	}
	score += 12 * math.Min(1, math.Sqrt(share*4))
	if n := g.Members[0].Regions[0].Pixels; len(g.Members) == 1 && many == 1 && n < 6 {
		score -= 10
	}
	switch g.Seen {
	case Subtle:
		score -= 12
	case No:
		score -= 1000
	}
	return score
}
