package group

import (
	"image"

	"github.com/fascia-bench/fascia/compare"
)

// Left tells what is left of a look's difference when some groups are approved: their pixels are
// taken over from after into before, and the result is held against after. It gives that picture, too.
// Both pictures must have one size and be those that were folded.
func (r *Result) Left(look int, before, after image.Image, approved func(*Group) bool, opt compare.Options) (compare.Result, image.Image) {
	b, a := planeOf(before), planeOf(after)
	if b.w != a.w || b.h != a.h {
		return compare.Compare(before, after, opt), before
	}
	taken := false
	for _, g := range r.All() {
		if !approved(g) {
			continue
		}
		for _, m := range g.Members {
			if m.Look != look {
				continue
			}
			for _, reg := range m.Regions {
				taken = true
				for _, s := range reg.mask {
					copy(b.px[int(s.y)*b.w+int(s.x0):int(s.y)*b.w+int(s.x1)], a.px[int(s.y)*b.w+int(s.x0):])
				}
			}
		}
	}
	if !taken {
		return compare.Compare(before, after, opt), before
	}
	m := b.image()
	return compare.Compare(m, a.image(), opt), m
}

// Owners gives for each pixel of a look, row after row of a panel so many pixels wide and high, the rank of the group
// that its change belongs to; 0 where nothing changed.
func (r *Result) Owners(look, w, h int) []int {
	out := make([]int, w*h)
	for _, g := range r.All() {
		for _, m := range g.Members {
			if m.Look != look {
				continue
			}
			for _, reg := range m.Regions {
				for _, s := range reg.mask {
					for i := int(s.y)*w + int(s.x0); i < int(s.y)*w+int(s.x1) && i < len(out); i++ {
						out[i] = g.Rank
					}
				}
			}
		}
	}
	return out
}
