package compare

import (
	"fmt"
	"image"
)

// Flushed compares the picture that partial updates left on the panel with a full redraw
// of the same moment, which needs no golden: any difference is a fault of the updates.
// lastArea is the rectangle that was flushed last, in panel coordinates; it may be empty.
//
// The causes are `stale` with detail kind `strip` (along an edge of the last area) or
// `trail` (thin lines elsewhere), `other` with kind `noise` (inside the last area), and
// otherwise those of Compare. The redraw stands as the golden, the flushed picture as the
// capture.
func Flushed(flushed, redrawn image.Image, lastArea image.Rectangle) Result {
	res := Compare(redrawn, flushed, Options{})
	if res.Same || len(res.Regions) == 0 {
		return res
	}
	p := newPair(load(redrawn), load(flushed), nil)
	comps, label := components(p.diff, p.w, p.h)
	list := regionsOf(comps, label)
	found := false
	regions := make([]Region, len(list))
	for i, r := range list {
		regions[i] = res.Regions[i]
		if c, ok := p.updateFault(r, lastArea); ok {
			regions[i] = regionOf(r.box, c)
			found = true
		}
	}
	if found {
		res.Regions = regions
		res.Causes = summarise(regions, comps)
	}
	return res
}

// updateFault names what a partial update did wrong in a region.
func (p *pair) updateFault(r *region, last image.Rectangle) (Cause, bool) {
	at := fmt.Sprintf("at %d,%d (%dx%d)", r.box.Min.X, r.box.Min.Y, r.box.Dx(), r.box.Dy())
	thick := min(r.box.Dx(), r.box.Dy())
	long := max(r.box.Dx(), r.box.Dy())
	if edge := alongEdge(r.box, last); edge != "" && thick <= 4 && long >= 4*thick {
		return Cause{Cause: "stale", Confidence: 0.9, Detail: Detail{"kind": "strip", "edge": edge, "px": thick},
			Says: fmt.Sprintf("A strip of %d px %s, along the %s edge of the area flushed last, still shows the old picture: the area is short by that much, or the controller wants even edges%s.",
				thick, at, edge, practice)}, true
	}
	if !last.Empty() && r.box.In(last.Inset(-1)) && p.noisy(r) {
		return Cause{Cause: "other", Confidence: 0.8, Detail: Detail{"kind": "noise"},
			Says: fmt.Sprintf("There is noise %s, inside the area flushed last: it was perhaps written with the line pitch of the screen%s.", at, practice)}, true
	}
	if long >= 4 && p.thin(r) {
		return Cause{Cause: "stale", Confidence: 0.8, Detail: Detail{"kind": "trail"},
			Says: fmt.Sprintf("A trail of one pixel %s is left of what stood there: the invalidated area is too small by one%s.", at, practice)}, true
	}
	return Cause{}, false
}

// alongEdge names the edge of the area that a box lies along, inside or just outside.
func alongEdge(b, area image.Rectangle) string {
	if area.Empty() {
		return ""
	}
	within := func(a, z, from, to int) bool { return a >= from-1 && z <= to+1 }
	switch {
	case b.Dx() >= b.Dy() && within(b.Min.X, b.Max.X, area.Min.X, area.Max.X):
		if abs(b.Max.Y-area.Max.Y) <= 1 || b.Min.Y == area.Max.Y {
			return "lower"
		}
		if abs(b.Min.Y-area.Min.Y) <= 1 || b.Max.Y == area.Min.Y {
			return "upper"
		}
	case within(b.Min.Y, b.Max.Y, area.Min.Y, area.Max.Y):
		if abs(b.Max.X-area.Max.X) <= 1 || b.Min.X == area.Max.X {
			return "right"
		}
		if abs(b.Min.X-area.Min.X) <= 1 || b.Max.X == area.Min.X {
			return "left"
		}
	}
	return ""
}

// noisy reports whether far more neighbours differ in the capture than in the golden.
func (p *pair) noisy(r *region) bool {
	if len(r.px) < 32 {
		return false
	}
	g, c, n := 0, 0, 0
	for _, i := range r.px {
		if (int(i)+1)%p.w == 0 {
			continue
		}
		n++
		if !near(p.g.px[i], p.g.px[i+1], gradientSlack) {
			g++
		}
		if !near(p.c.px[i], p.c.px[i+1], gradientSlack) {
			c++
		}
	}
	return c*2 > n && c > 2*g
}

// thin reports whether the changed pixels form lines of one pixel.
func (p *pair) thin(r *region) bool {
	in := make(map[int32]bool, len(r.px))
	for _, i := range r.px {
		in[i] = true
	}
	w := int32(p.w)
	blocks := 0
	for _, i := range r.px {
		if in[i+1] && in[i+w] && in[i+w+1] {
			blocks++
		}
	}
	return blocks*10 <= len(r.px)
}
