package compare

import (
	"fmt"
	"image"
)

// Tolerance forgives differences of one kind, in one area, for a stated reason. Exactly
// one of ColourBelow, SmallerThan and EdgesOnly is meant to be set; of several, each
// forgives by itself.
type Tolerance struct {
	// Area in panel coordinates; the empty rectangle means the whole panel.
	Area image.Rectangle
	// ColourBelow forgives a pixel whose CIEDE2000 difference is below it; about 1 can
	// just be seen side by side.
	ColourBelow float64
	// SmallerThan forgives a region with fewer differing pixels, if all of them lie in the
	// area.
	SmallerThan int
	// EdgesOnly forgives a region, all in the area, in which only anti-aliasing changed:
	// each pixel lies where colours meet in both pictures and keeps within these colours.
	EdgesOnly bool
	// Reason is told with every use.
	Reason string
}

// Relaxed tells that a tolerance was used.
type Relaxed struct {
	Rule   string `json:"rule"`
	Area   [4]int `json:"area"` // x, y, w, h
	Reason string `json:"reason"`
	Pixels int    `json:"pixels"` // differing pixels that it forgave
}

// relax takes forgiven pixels out of the difference, colour first, then small regions,
// then edges, and tells what was used.
func (p *pair) relax(list []Tolerance) []Relaxed {
	var used []Relaxed
	panel := image.Rect(0, 0, p.w, p.h)
	for _, kind := range []func(Tolerance, image.Rectangle) (string, int){p.relaxColour, p.relaxSmall, p.relaxEdges} {
		for _, t := range list {
			area := panel
			if !t.Area.Empty() {
				area = t.Area.Intersect(panel)
			}
			if p.changed == 0 || area.Empty() {
				continue
			}
			if rule, n := kind(t, area); n > 0 {
				used = append(used, Relaxed{Rule: rule, Reason: t.Reason, Pixels: n,
					Area: [4]int{area.Min.X, area.Min.Y, area.Dx(), area.Dy()}})
			}
		}
	}
	if used != nil {
		p.box = image.Rectangle{}
		for i, d := range p.diff {
			if d {
				p.box = p.box.Union(image.Rect(i%p.w, i/p.w, i%p.w+1, i/p.w+1))
			}
		}
	}
	return used
}

func (p *pair) forgive(i int) {
	p.diff[i] = false
	p.changed--
}

func (p *pair) relaxColour(t Tolerance, area image.Rectangle) (string, int) {
	if t.ColourBelow <= 0 {
		return "", 0
	}
	n := 0
	// Screens have few colours; the same two meet again and again.
	known := map[[2]uint32]bool{}
	for y := area.Min.Y; y < area.Max.Y; y++ {
		for x := area.Min.X; x < area.Max.X; x++ {
			i := y*p.w + x
			if !p.diff[i] {
				continue
			}
			k := [2]uint32{p.g.px[i], p.c.px[i]}
			small, ok := known[k]
			if !ok {
				small = ColourDifference(labOf(k[0]), labOf(k[1])) < t.ColourBelow
				known[k] = small
			}
			if small {
				p.forgive(i)
				n++
			}
		}
	}
	return fmt.Sprintf("colour difference below %g", t.ColourBelow), n
}

func (p *pair) relaxSmall(t Tolerance, area image.Rectangle) (string, int) {
	if t.SmallerThan <= 0 {
		return "", 0
	}
	return fmt.Sprintf("areas smaller than %d px", t.SmallerThan),
		p.relaxRegions(area, func(r *region) bool { return len(r.px) < t.SmallerThan })
}

func (p *pair) relaxEdges(t Tolerance, area image.Rectangle) (string, int) {
	if !t.EdgesOnly {
		return "", 0
	}
	e := &explorer{p: p, mark: make([]int32, p.w*p.h)}
	return "edges only", p.relaxRegions(area, func(r *region) bool {
		e.survey(r)
		return p.edges(r) != nil
	})
}

// relaxRegions forgives the regions in the area for which ok holds.
func (p *pair) relaxRegions(area image.Rectangle, ok func(*region) bool) int {
	comps, label := components(p.diff, p.w, p.h)
	n := 0
	for _, r := range regionsOf(comps, label) {
		if r.box.In(area) && ok(r) {
			for _, i := range r.px {
				p.forgive(int(i))
			}
			n += len(r.px)
		}
	}
	return n
}
