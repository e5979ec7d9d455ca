package report

import (
	"fmt"
	"image"
	"sort"
	"strconv"
	"strings"

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
	Rings []ring // those that it is about and that have a number; none if it holds for the panel
	Count int    // how many regions there are of the kind, numbered or not
	Cause compare.Cause
}

// ringsAndNotes numbers the regions of a finding, in reading order, and sorts out what is said of
// them. Regions of one cause with the same figures share a note, which has the sentence of the largest. A
// sentence shared word by word is about the panel as a whole: those regions get no numbers. tag is the
// radius of a number in panel px.
func ringsAndNotes(res compare.Result, panel image.Rectangle, tag int) (rings []ring, notes []note) {
	shared := map[string]int{}
	for _, r := range res.Regions {
		shared[r.Says]++
	}
	said := map[string]bool{}
	whole := func(c compare.Cause) {
		if !said[c.Says] {
			said[c.Says] = true
			notes = append(notes, note{Count: shared[c.Says], Cause: c})
		}
	}
	for _, c := range res.Causes {
		if shared[c.Says] != 1 { // of a part of the panel the region says it, and says where
			whole(c)
		}
	}
	var kinds []string
	byKind := map[string]*note{}
	biggest := map[string]int64{}
	numbered := chosen(res.Regions, shared)
	n := 0
	for i, r := range res.Regions {
		box := clip(r.X, r.Y, r.W, r.H, panel)
		if box.Empty() {
			continue
		}
		g := ring{Box: box}
		cause := compare.Cause{Cause: r.Cause, Confidence: r.Confidence, Detail: r.Detail, Instead: r.Instead, Says: r.Says}
		if shared[r.Says] > 1 {
			whole(cause)
			rings = append(rings, g)
			continue
		}
		if numbered[i] {
			n++
			g.N = n
		}
		rings = append(rings, g)
		k := kind(r)
		x := byKind[k]
		if x == nil {
			x = &note{}
			byKind[k] = x
			kinds = append(kinds, k)
		}
		x.Count++
		if g.N > 0 {
			x.Rings = append(x.Rings, g)
			if area := areaOf(r); x.Cause.Says == "" || area > biggest[k] {
				x.Cause, biggest[k] = cause, area
			}
		}
	}
	for _, k := range kinds {
		if x := byKind[k]; len(x.Rings) > 0 {
			notes = append(notes, *x)
		}
	}
	placeTags(rings, panel, tag)
	return rings, notes
}

// kind is what regions that are told together have in common.
func kind(r compare.Region) string {
	if r.Cause == "edges" { // its figures count pixels, which sets none apart
		return r.Cause
	}
	return fmt.Sprint(r.Cause, r.Detail)
}

func areaOf(r compare.Region) int64 { return int64(r.W) * int64(r.H) }

// chosen picks the regions that get numbers, by index: the largest of each kind, then the largest.
func chosen(regions []compare.Region, shared map[string]int) map[int]bool {
	var own []int
	for i, r := range regions {
		if shared[r.Says] == 1 {
			own = append(own, i)
		}
	}
	sort.SliceStable(own, func(a, b int) bool { return areaOf(regions[own[a]]) > areaOf(regions[own[b]]) })
	out, seen := map[int]bool{}, map[string]bool{}
	pick := func(i int) {
		if len(out) < maxNumbered {
			out[i] = true
		}
	}
	for _, i := range own {
		if k := kind(regions[i]); !seen[k] {
			seen[k] = true
			pick(i)
		}
	}
	for _, i := range own {
		pick(i)
	}
	return out
}

// Numbers writes the numbers of a note's rings, runs of them joined: "1", "2-5, 7".
func (n note) Numbers() string {
	var parts []string
	for i := 0; i < len(n.Rings); i++ {
		j := i
		for j+1 < len(n.Rings) && n.Rings[j+1].N == n.Rings[j].N+1 {
			j++
		}
		switch {
		case j > i+1:
			parts = append(parts, fmt.Sprintf("%d\u2013%d", n.Rings[i].N, n.Rings[j].N))
		default:
			j = i
			parts = append(parts, strconv.Itoa(n.Rings[i].N))
		}
		i = j
	}
	return strings.Join(parts, ", ")
}

// Alike says that the sentence, which is about the largest region, holds for others too.
func (n note) Alike() string {
	if len(n.Rings) == 0 || n.Count < 2 {
		return ""
	}
	others := plural(n.Count-1, "other region")
	switch bare := n.Count - len(n.Rings); {
	case bare == 0:
		return "Likewise " + others + "."
	case bare == n.Count-1:
		return "Likewise " + others + ", without a number."
	default:
		return fmt.Sprintf("Likewise %s, %d of them without a number.", others, bare)
	}
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
