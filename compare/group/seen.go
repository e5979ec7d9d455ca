package group

import (
	"image/color"
	"math"

	"github.com/fascia-bench/fascia/compare"
)

// seen is see, but for what is known of the shape of a change: a displacement of a pixel, or other edges of
// what is still there, are seen only by who looks for them.
func (s *scene) seen(r *Region) Seen {
	is := s.see(r.mask, r.Pixels)
	dx, _ := r.Detail["dx"].(int)
	dy, _ := r.Detail["dy"].(int)
	if is == Yes && (r.Cause == "edges" || r.Cause == "moved" && dx*dx+dy*dy <= 2) {
		return Subtle
	}
	return is
}

// see tells whether a person sees a change of these pixels, when both pictures are shown in turn.
//
// The eye takes in areas and not pixels: at the usual pitch of 0.15 to 0.2 mm and half a metre, 3x3 px are
// about two thirds of a tenth of a degree (worked out, not measured). So CIEDE2000 is taken between means of
// 3x3 px, and a difference must be met in some places. Below 1 nothing is seen, since about 1 can just be
// told side by side; from 3 on nobody misses it (common practice, no source).
func (s *scene) see(mask []span, pixels int) Seen {
	every := max(1, pixels/150)
	w, h := s.a.w, s.a.h
	var diffs []float64
	n := 0
	for _, q := range mask {
		for x := int(q.x0); x < int(q.x1); x++ {
			if n++; n%every != 0 && pixels > 150 {
				continue
			}
			var b, a [3]int
			k := 0
			around(x, int(q.y), w, h, 1, func(i int) {
				k++
				for c := range 3 {
					b[c] += int(s.b.px[i] >> (8 * c) & 0xff)
					a[c] += int(s.a.px[i] >> (8 * c) & 0xff)
				}
			})
			lab := func(v [3]int) compare.Lab {
				return compare.LabOf(color.RGBA{uint8(v[2] / k), uint8(v[1] / k), uint8(v[0] / k), 255})
			}
			diffs = append(diffs, compare.ColourDifference(lab(b), lab(a)))
		}
	}
	var over1, over3 float64
	for _, d := range diffs {
		if d >= 1 {
			over1++
		}
		if d >= 3 {
			over3++
		}
	}
	scale := float64(pixels) / math.Max(1, float64(len(diffs)))
	switch {
	case over3*scale >= 6:
		return Yes
	case over1*scale >= 4 || over3 > 0:
		return Subtle
	}
	return No
}
