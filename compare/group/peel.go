package group

import "image"

// A scene is a pair under examination. Layers are peeled off it: pixels that one reason explains
// go to before as if they had never changed, and what remains is looked at again.
type scene struct {
	b, a   plane
	pb, pa *plane // before and after of the previous look, or nil
	// open marks differing pixels that no layer has taken yet.
	open []bool
	left int
}

func newScene(b, a plane, ignore []image.Rectangle) *scene {
	s := &scene{b: b, a: a, open: make([]bool, len(b.px))}
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
	return p
}

// stale peels strips that show what the previous look showed and should not: rows that a partial
// refresh did not reach. Larger parts are told by package compare.
func (s *scene) stale() []blob {
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
		if min(b.box.Dx(), b.box.Dy()) <= 2 && max(b.box.Dx(), b.box.Dy()) >= 3 && s.alone(b) {
			out = append(out, b)
			s.take(b.px)
		}
	}
	return out
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
		if len(b.px) < 12 {
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
		if bold*4 <= len(b.px) {
			out = append(out, b)
			s.take(b.px)
		}
	}
	return out
}

var beside = [4]image.Point{{0, -1}, {-1, 0}, {1, 0}, {0, 1}}
