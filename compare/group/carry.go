package group

import (
	"image"

	"github.com/fascia-bench/fascia/compare"
)

// carryReach bounds the search for a displacement along an axis, in px, and askewReach that across both.
const (
	carryReach  = 24
	askewReach  = 4
	carrySample = 96 // pixels that a search looks at
	thing       = 60 // changed pixels of what is looked for by itself, in the midst of others
)

// displacement finds how far the content of a blob was carried from before, as it is without all that other
// reasons explain, to after.
func (s *scene) displacement(b blob, was plane) (image.Point, bool) {
	if len(b.px) < 8 {
		return image.Point{}, false
	}
	from, to := s.content(b, was)
	if len(from) < 4 || len(to) < 4 || len(from) > 3*len(to) || len(to) > 3*len(from) {
		return image.Point{}, false
	}
	if !s.bold(b, was) || s.rims(b.mask, was) {
		return image.Point{}, false
	}
	some, back := sampled(from), sampled(to)
	for _, d := range nearby {
		if s.carries(some, was, s.a, d, s.hidden) && s.carries(back, s.a, was, image.Pt(-d.X, -d.Y), nil) &&
			s.carries(from, was, s.a, d, s.hidden) && s.carries(to, s.a, was, image.Pt(-d.X, -d.Y), nil) {
			return d, true
		}
	}
	return image.Point{}, false
}

// nearby are displacements to try, the shortest first.
var nearby = func() (out []image.Point) {
	for n := 1; n <= carryReach; n++ {
		out = append(out, image.Pt(0, n), image.Pt(0, -n), image.Pt(n, 0), image.Pt(-n, 0))
		if n > askewReach {
			continue
		}
		for k := 1; k <= n; k++ {
			for _, p := range [2]image.Point{{n, k}, {k, n}} {
				out = append(out, p, image.Pt(-p.X, p.Y), image.Pt(p.X, -p.Y), image.Pt(-p.X, -p.Y))
				if n == k {
					break
				}
			}
		}
	}
	return out
}()

func sampled(px []int32) []int32 {
	if len(px) <= carrySample {
		return px
	}
	out := make([]int32, carrySample)
	for k := range out {
		out[k] = px[k*len(px)/carrySample]
	}
	return out
}

// misfits counts the pixels of one picture that are not found displaced in the other, up to one more than may be. What would
// stand where nothing can be seen is no misfit; nil hides nothing.
func misfits(px []int32, p, q plane, d image.Point, most int, hidden []bool) (bad int) {
	for _, i := range px {
		x, y := int(i)%p.w+d.X, int(i)/p.w+d.Y
		if hidden != nil && x >= 0 && y >= 0 && x < p.w && y < p.h && hidden[y*p.w+x] {
			continue
		}
		if x < 0 || y < 0 || x >= p.w || y >= p.h || step(q.px[y*p.w+x], p.px[i]) > faintStep {
			if bad++; bad > most {
				return bad
			}
		}
	}
	return bad
}

// carries reports whether pixels of one picture are found displaced in the other, but for one in twelve.
func (s *scene) carries(px []int32, p, q plane, d image.Point, hidden []bool) bool {
	most := len(px) / 12
	return misfits(px, p, q, d, most, hidden) <= most
}

// carriedOff peels what only stands elsewhere.
func (s *scene) carriedOff(was plane) (out []Region) {
	if s.left == 0 {
		return nil
	}
	add := func(b blob, d image.Point) {
		out = append(out, regionOf(b, "moved", compare.Detail{"dx": d.X, "dy": d.Y}))
		s.take(b.px)
	}
	for _, b := range blobs(s.open, s.b.w, s.b.h, 5) {
		if d, ok := s.displacement(b, was); ok {
			add(b, d)
		} else if len(b.px) >= 2*thing { // several things, perhaps
			mask := make([]bool, len(s.open))
			mark(mask, b.mask, s.b.w)
			for _, b := range blobs(mask, s.b.w, s.b.h, 1) {
				if len(b.px) < thing {
					continue
				}
				if d, ok := s.displacement(b, was); ok {
					add(b, d)
				}
			}
		}
	}
	if len(out) == 0 {
		return out
	}
	// What is too little to tell by itself has come along if it fits.
	with := movesOf(out)
	for _, b := range blobs(s.open, s.b.w, s.b.h, 1) {
		from, to := s.content(b, was)
		if 2*(len(from)+len(to)) < len(b.px) || !s.bold(b, was) || s.rims(b.mask, was) {
			continue
		}
		if d, ok := s.along(b.box, from, to, was, with, s.hidden); ok {
			add(b, d)
			with = append(with, move{d, b.box})
		}
	}
	return out
}

// bold reports whether a third of the pixels at least changed by more than steps of a gradient, which looks
// carried off to anywhere.
func (s *scene) bold(b blob, was plane) bool {
	n := 0
	for _, i := range b.px {
		if step(was.px[i], s.a.px[i]) > 2*faintStep {
			n++
		}
	}
	return 3*n >= len(b.px)
}

// content gives the pixels of a blob that are off the ground before, and after.
func (s *scene) content(b blob, was plane) (from, to []int32) {
	ground := groundOf(s.a, was, b.box)
	for _, i := range b.px {
		if step(was.px[i], ground) > faintStep {
			from = append(from, i)
		}
		if step(s.a.px[i], ground) > faintStep {
			to = append(to, i)
		}
	}
	return from, to
}
