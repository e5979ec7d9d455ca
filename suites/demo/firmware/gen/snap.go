package main

import (
	"math"
	"sort"

	"golang.org/x/image/font/sfnt"
)

// At sizes of ten pixels a stem that straddles two columns looks grey and woolly. So each glyph
// is bent a little, along both axes: stems keep their width but begin on a pixel edge, and what
// lies between them is stretched to fit. Rounding the widths too would be crisper still, but
// letters with and without stems then differ in weight.

type point struct{ x, y float64 } // font units, y upward

// flatten turns curves into short lines.
func flatten(segs sfnt.Segments) [][]point {
	var out [][]point
	var last point
	add := func(p point) {
		out[len(out)-1] = append(out[len(out)-1], p)
		last = p
	}
	for _, s := range segs {
		var a [3]point
		for i, p := range s.Args {
			a[i] = point{units(p.X), -units(p.Y)}
		}
		from := last
		switch s.Op {
		case sfnt.SegmentOpMoveTo:
			out = append(out, nil)
			add(a[0])
		case sfnt.SegmentOpLineTo:
			add(a[0])
		case sfnt.SegmentOpQuadTo:
			for i := 1; i <= 12; i++ {
				t := float64(i) / 12
				u := 1 - t
				add(point{u*u*from.x + 2*u*t*a[0].x + t*t*a[1].x, u*u*from.y + 2*u*t*a[0].y + t*t*a[1].y})
			}
		case sfnt.SegmentOpCubeTo:
			for i := 1; i <= 12; i++ {
				t := float64(i) / 12
				u := 1 - t
				b, c, d, e := u*u*u, 3*u*u*t, 3*u*t*t, t*t*t
				add(point{b*from.x + c*a[0].x + d*a[1].x + e*a[2].x, b*from.y + c*a[0].y + d*a[1].y + e*a[2].y})
			}
		}
	}
	return out
}

func swap(cs [][]point) [][]point {
	out := make([][]point, len(cs))
	for i, c := range cs {
		for _, p := range c {
			out[i] = append(out[i], point{p.y, p.x})
		}
	}
	return out
}

// An edge is where ink begins or ends along x, over enough length to be seen as straight.
type edge struct {
	at, length float64
	begins     bool
}

// edges finds them. In these fonts outer contours run so that ink begins where y rises;
// mirrored (see swap) it begins where it falls.
func edges(cs [][]point, em float64, mirrored bool) []edge {
	var found []edge
	for _, c := range cs {
		for i, p := range c {
			q := c[(i+1)%len(c)]
			dx, dy := q.x-p.x, q.y-p.y
			if dy == 0 || math.Abs(dx) > 0.2*math.Abs(dy) {
				continue
			}
			found = append(found, edge{(p.x + q.x) / 2, math.Abs(dy), dy > 0 != mirrored})
		}
	}
	sort.SliceStable(found, func(i, j int) bool { return found[i].at < found[j].at })
	var out []edge
	for _, begins := range []bool{true, false} {
		var run edge
		flush := func() {
			if run.length > 0.07*em {
				out = append(out, edge{run.at / run.length, run.length, begins})
			}
			run = edge{}
		}
		for _, e := range found {
			if e.begins != begins {
				continue
			}
			if run.length > 0 && e.at-run.at/run.length > 0.025*em {
				flush()
			}
			run.at += e.at * e.length
			run.length += e.length
		}
		flush()
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].at < out[j].at })
	return out
}

// A warp maps font units to pixels, piecewise linear.
type warp struct {
	scale, shift float64
	from, to     []float64
}

func (w *warp) at(u float64) float64 {
	n := len(w.from)
	switch {
	case n == 0:
		return u*w.scale + w.shift
	case u <= w.from[0]:
		return w.to[0] + (u-w.from[0])*w.scale
	case u >= w.from[n-1]:
		return w.to[n-1] + (u-w.from[n-1])*w.scale
	}
	i := sort.SearchFloat64s(w.from, u)
	t := (u - w.from[i-1]) / (w.from[i] - w.from[i-1])
	return w.to[i-1] + t*(w.to[i]-w.to[i-1])
}

// pin adds a point to the warp, if it keeps its order.
func (w *warp) pin(u, px float64) {
	i := sort.SearchFloat64s(w.from, u)
	if i < len(w.from) && w.from[i]-u < 1 || i > 0 && u-w.from[i-1] < 1 ||
		i < len(w.to) && px > w.to[i] || i > 0 && px < w.to[i-1] {
		return
	}
	w.from = append(w.from[:i], append([]float64{u}, w.from[i:]...)...)
	w.to = append(w.to[:i], append([]float64{px}, w.to[i:]...)...)
}

// snap pins the stems. zone says where an edge must lie that is on one of the font's lines.
func (w *warp) snap(es []edge, em float64, zone func(u float64) (px float64, ok bool)) {
	end := math.Inf(-1)
	for i, b := range es {
		if !b.begins {
			continue
		}
		for _, e := range es[i+1:] {
			if e.begins || e.at-b.at > 0.16*em {
				break
			}
			wide := (e.at - b.at) * w.scale
			begin := math.Round(w.shift + b.at*w.scale)
			if px, ok := zone(b.at); ok {
				begin = px
			} else if px, ok := zone(e.at); ok {
				begin = px - wide
			}
			if begin < end+0.7 { // two stems never melt into one
				begin = math.Ceil(end + 0.7)
			}
			w.pin(b.at, begin)
			w.pin(e.at, begin+wide)
			end = begin + wide
			break
		}
	}
}
