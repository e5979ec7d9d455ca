package group

import (
	"image"
	"math"
)

// A scene is a pair under examination. Layers are peeled off it: pixels that one reason explains
// go to before as if they had never changed, and what remains is looked at again.
type scene struct {
	b, a   plane
	pb, pa *plane // before and after of the previous look, or nil
	// open marks differing pixels that no layer has taken yet.
	open []bool
	left int
	// before has, of open pixels, the colour that a recolouring gives them; they changed in another way
	// as well.
	before map[int32]uint32
}

func newScene(b, a plane, ignore []image.Rectangle) *scene {
	s := &scene{b: b, a: a, open: make([]bool, len(b.px)), before: map[int32]uint32{}}
	for i, v := range b.px {
		s.open[i] = v != a.px[i]
	}
	for _, r := range ignore {
		r = r.Intersect(b.rect())
		for y := r.Min.Y; y < r.Max.Y; y++ {
			clear(s.open[y*b.w+r.Min.X : y*b.w+r.Max.X])
		}
	}
	for _, o := range s.open {
		if o {
			s.left++
		}
	}
	return s
}

// take closes pixels.
func (s *scene) take(px []int32) {
	for _, i := range px {
		if s.open[i] {
			s.open[i] = false
			s.left--
		}
	}
}

// rest is before with all that was taken as it is after.
func (s *scene) rest() plane {
	p := s.b.clone()
	for i, o := range s.open {
		if !o {
			p.px[i] = s.a.px[i]
		}
	}
	for i, c := range s.before {
		if s.open[i] && c != s.a.px[i] {
			p.px[i] = c
		}
	}
	return p
}

// stale peels strips that show what the previous look showed and should not: rows that a partial
// refresh did not reach. Larger parts are told by package compare.
//
// What a recolouring explains is not stale: a rim that had the old accent, and now has the new one, may by
// chance be as it was on the look before.
func (s *scene) stale(rules []rule) []blob {
	if s.pa == nil || s.pb == nil || len(s.pa.px) != len(s.a.px) || s.pa.w != s.a.w || len(s.pb.px) != len(s.b.px) {
		return nil
	}
	mask := make([]bool, len(s.open))
	any := false
	for i, o := range s.open {
		if o && s.a.px[i] == s.pa.px[i] && s.b.px[i] != s.pb.px[i] {
			mask[i], any = true, true
		}
	}
	if !any {
		return nil
	}
	var out []blob
	for _, b := range blobs(mask, s.b.w, s.b.h, 5) {
		// A pixel or two may be as they were by chance.
		if min(b.box.Dx(), b.box.Dy()) <= 2 && max(b.box.Dx(), b.box.Dy()) >= 3 && s.alone(b) && !s.tinted(b, rules) {
			out = append(out, b)
			s.take(b.px)
		}
	}
	return out
}

// tinted reports whether pixels are a mixture of what lies still beside them and of a colour that became
// another, and now are the same mixture with that other one.
func (s *scene) tinted(b blob, rules []rule) bool {
	n := 0
	for _, i := range b.px {
		x, y, ok := int(i)%s.b.w, int(i)/s.b.w, false
		around(x, y, s.b.w, s.b.h, 2, func(k int) {
			if ok || s.b.px[k] != s.a.px[k] {
				return
			}
			for _, r := range rules {
				u, offU := way(s.b.px[i], s.a.px[k], r.from)
				v, offV := way(s.a.px[i], s.a.px[k], r.to)
				if offU <= faintStep && offV <= faintStep && u >= 0.2 && math.Abs(u-v) <= 0.13 {
					ok = true
					return
				}
			}
		})
		if ok {
			n++
		}
	}
	return n*5 >= 4*len(b.px)
}

// alone reports whether what lies along a strip, on one side at least, did not change in the same way:
// else the strip is only the rim of a larger change.
func (s *scene) alone(b blob) bool {
	touching := func(d int) int {
		n := 0
		for _, i := range b.px {
			if k := int(i) + d; k >= 0 && k < len(s.open) && s.open[k] {
				n++
			}
		}
		return n
	}
	d := s.b.w
	if b.box.Dx() < b.box.Dy() {
		d = 1
	}
	d *= min(b.box.Dx(), b.box.Dy())
	return touching(d)*2 <= len(b.px) || touching(-d)*2 <= len(b.px)
}

// faintStep is one step of 5 bits a channel, expanded to 8.
const faintStep = 9

// faint peels areas whose colours are a step off: gradients, shadows and blends that are computed
// otherwise. Faint pixels at the rim of a bolder change belong to that.
func (s *scene) faint() []blob {
	mask := make([]bool, len(s.open))
	n := 0
	for i, o := range s.open {
		if o && step(s.b.px[i], s.a.px[i]) <= faintStep {
			mask[i] = true
			n++
		}
	}
	if n < 12 {
		return nil
	}
	var out []blob
	for _, b := range blobs(mask, s.b.w, s.b.h, 2) {
		if len(b.px) < 16 {
			continue
		}
		bold := 0 // differing pixels around that are not faint
		for _, i := range b.px {
			x, y := int(i)%s.b.w, int(i)/s.b.w
			for _, d := range beside {
				if nx, ny := x+d.X, y+d.Y; nx >= 0 && ny >= 0 && nx < s.b.w && ny < s.b.h {
					if k := ny*s.b.w + nx; s.open[k] && !mask[k] {
						bold++
						break
					}
				}
			}
		}
		if bold*4 <= len(b.px) && s.area(b, mask) {
			out = append(out, b)
			s.take(b.px)
		}
	}
	return out
}

// area reports whether faint pixels fill an area or make long lines, as bands do: scattered ones are
// rims of shapes.
func (s *scene) area(b blob, mask []bool) bool {
	inner, long := 0, 0
	for _, q := range b.mask {
		if q.x1-q.x0 >= 16 {
			long += int(q.x1 - q.x0)
		}
	}
	for _, i := range b.px {
		n := 0
		around(int(i)%s.b.w, int(i)/s.b.w, s.b.w, s.b.h, 1, func(k int) {
			if mask[k] {
				n++
			}
		})
		if n >= 6 {
			inner++
		}
	}
	return inner*4 >= len(b.px) || long*2 >= len(b.px)
}

var beside = [4]image.Point{{0, -1}, {-1, 0}, {1, 0}, {0, 1}}
