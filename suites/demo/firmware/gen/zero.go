package main

import (
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// plainZero takes the slash out of a zero. It tells 0 from O in programs; on a clock of eleven
// pixels it is noise. The two halves of the counter are replaced by one: the outer contour
// shrunk into the halves' common box, and mirrored, which turns its direction.
func plainZero(segs sfnt.Segments) sfnt.Segments {
	var contours []sfnt.Segments
	for _, s := range segs {
		if s.Op == sfnt.SegmentOpMoveTo {
			contours = append(contours, nil)
		}
		last := len(contours) - 1
		contours[last] = append(contours[last], s)
	}
	if len(contours) != 3 {
		return segs // another design of zero
	}
	outer := 0
	for i, c := range contours {
		if c.Bounds().Max.Y-c.Bounds().Min.Y > contours[outer].Bounds().Max.Y-contours[outer].Bounds().Min.Y {
			outer = i
		}
	}
	var hole fixed.Rectangle26_6
	for i, c := range contours {
		if i != outer {
			hole = hole.Union(c.Bounds())
		}
	}
	from := contours[outer].Bounds()
	out := append(sfnt.Segments(nil), contours[outer]...)
	for _, s := range contours[outer] {
		for k, p := range s.Args {
			s.Args[k] = fixed.Point26_6{
				X: hole.Max.X - shrink(p.X-from.Min.X, hole.Max.X-hole.Min.X, from.Max.X-from.Min.X),
				Y: hole.Min.Y + shrink(p.Y-from.Min.Y, hole.Max.Y-hole.Min.Y, from.Max.Y-from.Min.Y),
			}
		}
		out = append(out, s)
	}
	return out
}

// shrink is v*to/from; the product of two font distances does not fit 32 bits.
func shrink(v, to, from fixed.Int26_6) fixed.Int26_6 {
	return fixed.Int26_6(int64(v) * int64(to) / int64(from))
}
