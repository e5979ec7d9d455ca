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
	// hidden marks what cannot be seen, as the line was not redrawn; nil if all can.
	hidden []bool
	// recolours are pairs of colours that became each other at large.
	recolours map[rule]bool
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

// previous lays out what the panel showed before, and reports whether that can be used.
func (s *scene) previous(pb, pa image.Image) bool {
	if pb == nil || pa == nil {
		return false
	}
	q, r := planeOf(pb), planeOf(pa)
	if len(r.px) != len(s.a.px) || len(q.px) != len(s.b.px) || r.w != s.a.w || q.w != s.b.w {
		return false
	}
	s.pb, s.pa = &q, &r
	return true
}
