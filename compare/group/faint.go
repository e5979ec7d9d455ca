package group

import (
	"image"
	"slices"
)

// allFaint reports whether nothing differs by more than a step.
func (s *scene) allFaint() bool {
	for i, o := range s.open {
		if o && step(s.b.px[i], s.a.px[i]) > faintStep {
			return false
		}
	}
	return true
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
	if n < 40 {
		return nil
	}
	var out []blob
	for _, b := range blobs(mask, s.b.w, s.b.h, 2) {
		if len(b.px) < 40 {
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
	if len(out) == 0 {
		return nil
	}
	// Between the letters that stand on a gradient it steps as it does elsewhere.
	steps := map[rule]bool{}
	for _, b := range out {
		for _, i := range b.px {
			steps[rule{s.b.px[i], s.a.px[i]}] = true
		}
	}
	between := make([]bool, len(s.open))
	for i, o := range s.open {
		between[i] = o && steps[rule{s.b.px[i], s.a.px[i]}]
	}
	for _, b := range blobs(between, s.b.w, s.b.h, 2) {
		if len(b.px) >= 12 {
			out = append(out, b)
			s.take(b.px)
		}
	}
	// What stands on a gradient is blended with it at its rims.
	for _, b := range blobs(s.open, s.b.w, s.b.h, 2) {
		faint := 0
		for _, i := range b.px {
			if step(s.b.px[i], s.a.px[i]) <= faintStep {
				faint++
			}
		}
		if faint == len(b.px) && slices.ContainsFunc(out, func(q blob) bool { return b.box.In(q.box.Inset(-2)) }) {
			out = append(out, b)
			s.take(b.px)
		}
	}
	return out
}

// area reports whether faint pixels fill an area or make long lines, as bands do: scattered ones are
// rims of shapes.
func (s *scene) area(b blob, mask []bool) bool {
	inner, long, smooth := 0, 0, 0
	for _, q := range b.mask {
		if q.x1-q.x0 >= 16 {
			long += int(q.x1 - q.x0)
		}
	}
	for _, i := range b.px {
		n, rough := 0, 0
		around(int(i)%s.b.w, int(i)/s.b.w, s.b.w, s.b.h, 1, func(k int) {
			if mask[k] {
				n++
			}
			rough = max(rough, step(s.b.px[k], s.b.px[i]))
		})
		if rough <= 3*faintStep {
			smooth++
		}
		if n >= 6 {
			inner++
		}
	}
	return 2*smooth >= len(b.px) && (inner*4 >= len(b.px) || long*2 >= len(b.px))
}

var beside = [4]image.Point{{0, -1}, {-1, 0}, {1, 0}, {0, 1}}
