package report

import (
	"image"
	"sort"

	"github.com/fascia-bench/fascia/compare"
)

// Of many regions the largest get a number and a sentence: a list of hundreds is read by nobody.
const maxNumbered = 12

// ringGap is the space between a region and its ring, in panel px.
const ringGap = 2

// A ring goes round a region. Its number is 0 where it has none.
type ring struct {
	Box image.Rectangle // of the region, panel px
	N   int
	Tag image.Point // centre of the number, panel px; may lie off the panel
}

// A note is what is said of one or of several regions.
type note struct {
	N     int // the ring it belongs to; 0 for the panel as a whole or for several rings
	Rings int // how many regions share the sentence
	Box   image.Rectangle
	Cause compare.Cause
}

// ringsAndNotes numbers the regions of a finding, in reading order, and sorts out what is said of
// each. A sentence shared by several regions is one note without a number: it holds for the panel.
// Also returned is how many regions have neither number nor note. tag is the radius of a number in
// panel px.
func ringsAndNotes(res compare.Result, panel image.Rectangle, tag int) (rings []ring, notes []note, left int) {
	shared := map[string]int{}
	for _, r := range res.Regions {
		shared[r.Says]++
	}
	said := map[string]bool{}
	for _, c := range res.Causes {
		// Of a part of the panel the region says it, and says where.
		if n := shared[c.Says]; n != 1 && !said[c.Says] {
			said[c.Says] = true
			notes = append(notes, note{Rings: n, Cause: c})
		}
	}
	numbered := largest(res.Regions, shared)
	n := 0
	for i, r := range res.Regions {
		box := clip(r.X, r.Y, r.W, r.H, panel)
		if box.Empty() {
			continue
		}
		g := ring{Box: box}
		cause := compare.Cause{Cause: r.Cause, Confidence: r.Confidence, Detail: r.Detail, Instead: r.Instead, Says: r.Says}
		switch {
		case numbered[i]:
			n++
			g.N = n
			notes = append(notes, note{N: n, Rings: 1, Box: box, Cause: cause})
		case shared[r.Says] > 1 && !said[r.Says]:
			said[r.Says] = true
			notes = append(notes, note{Rings: shared[r.Says], Cause: cause})
		case shared[r.Says] == 1:
			left++
		}
		rings = append(rings, g)
	}
	placeTags(rings, panel, tag)
	return rings, notes, left
}

// largest picks the regions that get numbers, by index.
func largest(regions []compare.Region, shared map[string]int) map[int]bool {
	var own []int
	for i, r := range regions {
		if shared[r.Says] == 1 {
			own = append(own, i)
		}
	}
	area := func(i int) int64 { return int64(regions[i].W) * int64(regions[i].H) }
	sort.SliceStable(own, func(a, b int) bool { return area(own[a]) > area(own[b]) })
	out := map[int]bool{}
	for _, i := range own[:min(len(own), maxNumbered)] {
		out[i] = true
	}
	return out
}

// placeTags puts each number on a corner of its ring where it hides no other number and no small
// region, if there is such a corner.
func placeTags(rings []ring, panel image.Rectangle, radius int) {
	disc := func(p image.Point) image.Rectangle {
		return image.Rectangle{p, p}.Inset(-radius)
	}
	room := panel.Inset(-2 * radius) // beyond that, a number would touch what stands beside the panel
	var taken []image.Rectangle
	for i := range rings {
		g := &rings[i]
		if g.N == 0 {
			continue
		}
		o := g.Box.Inset(-ringGap - radius/2)
		corners := []image.Point{o.Min, {o.Max.X, o.Min.Y}, {o.Min.X, o.Max.Y}, o.Max}
		best, cost := o.Min, -1
		for _, c := range corners {
			d := disc(c)
			sum := hidden(d, g.Box)
			if !d.In(room) {
				sum += 4 * radius * radius
			}
			for _, t := range taken {
				sum += 4 * hidden(d, t)
			}
			for j, other := range rings {
				if j != i && other.N > 0 {
					sum += hidden(d, other.Box)
				}
			}
			if cost < 0 || sum < cost {
				best, cost = c, sum
			}
		}
		g.Tag = best
		taken = append(taken, disc(best))
	}
}

func hidden(a, b image.Rectangle) int {
	in := a.Intersect(b)
	return in.Dx() * in.Dy()
}

// clip gives the part of a box that lies on the panel. The figures come from a file, so sums may
// not overflow.
func clip(x, y, w, h int, panel image.Rectangle) image.Rectangle {
	const far = 1 << 24
	bound := func(v int) int { return min(max(v, -far), far) }
	x, y, w, h = bound(x), bound(y), bound(w), bound(h)
	if w <= 0 || h <= 0 {
		return image.Rectangle{}
	}
	return image.Rect(x, y, x+w, y+h).Intersect(panel)
}
