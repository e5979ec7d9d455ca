package group

import (
	"image"
	"math"
	"slices"
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

// seam peels what is left of the previous look on one side of a row, or on all of the panel. It is told by
// what should have changed since that look, so that other changes do not matter that both looks have.
func (s *scene) seam() (side []blob, cause string, row int) {
	if s.pa == nil {
		return nil, "", 0
	}
	w, h := s.a.w, s.a.h
	// Of the rows above y: how many pixels should have changed since, and how many of those did not.
	due, kept := make([]int, h+1), make([]int, h+1)
	for y := range h {
		due[y+1], kept[y+1] = due[y], kept[y]
		for i := y * w; i < (y+1)*w; i++ {
			switch {
			case s.b.px[i] == s.pb.px[i]:
			case s.a.px[i] != s.pa.px[i]:
				due[y+1]++
			case s.open[i]:
				due[y+1]++
				kept[y+1]++
			}
		}
	}
	const least = 60
	best, from, to := 0, 0, 0
	for y := 0; y <= h; y++ {
		// kept counts for a seam, a pixel that did change counts against it ten times
		for _, e := range [2][2]int{{y, h}, {0, y}} {
			d, k := due[e[1]]-due[e[0]], kept[e[1]]-kept[e[0]]
			if score := k - 10*(d-k); k >= least && score > best {
				best, from, to = score, e[0], e[1]
			}
		}
	}
	first, last := -1, -1 // rows that have pixels of the previous look
	for y := from; y < to; y++ {
		if kept[y+1] > kept[y] {
			if last = y; first < 0 {
				first = y
			}
		}
	}
	if best == 0 || last-first < 8 { // fewer rows are a strip
		return nil, "", 0
	}
	// The other side must have changed as it should, else this is a part that was not redrawn.
	mask := make([]bool, len(s.open))
	for i := from * w; i < to*w; i++ {
		mask[i] = s.open[i] && s.b.px[i] != s.pb.px[i] && s.a.px[i] == s.pa.px[i]
	}
	var box image.Rectangle
	for _, b := range blobs(mask, w, h, 5) {
		side = append(side, b)
		box = box.Union(b.box)
	}
	if box.Dx()*2 <= w {
		return nil, "", 0 // a part that was not redrawn
	}
	for _, b := range side {
		s.take(b.px)
	}
	switch {
	case kept[h]-kept[to]+kept[from] > 0 || due[h]-due[to]+due[from] >= 4:
		cause, row = "torn", from
		if from == 0 {
			row = to
		}
	default:
		cause = "stale"
	}
	return side, cause, row
}

// allFaint reports whether nothing differs by more than a step.
func (s *scene) allFaint() bool {
	for i, o := range s.open {
		if o && step(s.b.px[i], s.a.px[i]) > faintStep {
			return false
		}
	}
	return true
}

// stale peels strips that show what the previous look showed and should not: rows that a partial
// refresh did not reach. Larger parts are told by package compare.
//
// What a recolouring explains is not stale: a rim that had the old accent, and now has the new one, may by
// chance be as it was on the look before.
func (s *scene) stale(rules []rule) []blob {
	if s.pa == nil {
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
	inRow := map[int]int{}
	list := blobs(mask, s.b.w, s.b.h, 5)
	for _, b := range list {
		inRow[b.box.Min.Y] += len(b.px)
	}
	for _, b := range list {
		if b.box.Dy() > b.box.Dx() && b.box.Dy() < 16 || b.box.Dx() < 8 && inRow[b.box.Min.Y] < 7 || s.bare(b) {
			continue // a letter's stem, a few pixels
		}
		// A pixel or two may be as they were by chance.
		if min(b.box.Dx(), b.box.Dy()) <= 2 && max(b.box.Dx(), b.box.Dy()) >= 3 && s.alone(b) && !s.tinted(b, rules) {
			out = append(out, b)
			s.take(b.px)
		}
	}
	return append(out, s.sameRows(out, mask)...)
}

// sameRows peels what else is as it was in rows that were not redrawn elsewhere on the look, be it a stem between
// letters that changed as well.
func (s *scene) sameRows(strips []blob, was []bool) []blob {
	rows, w := map[int]bool{}, s.b.w
	for _, b := range strips {
		if b.box.Dx() >= 8 && b.box.Dy() == 1 {
			rows[b.box.Min.Y] = true
		}
	}
	if len(rows) == 0 {
		return nil
	}
	mask := make([]bool, len(s.open))
	for y := range rows {
		for i := y * w; i < (y+1)*w; i++ {
			mask[i] = was[i] && s.open[i]
		}
	}
	more := blobs(mask, w, s.b.h, 5)
	for _, b := range more {
		s.take(b.px)
	}
	return more
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

// bare reports whether a strip is now as bare as what is around it, and cuts off nothing that stayed on either
// side: something is gone from there, whether or not it was there on the look before.
func (s *scene) bare(b blob) bool {
	ground := groundOf(s.a, s.b, b.box)
	d, n := s.b.w, 0
	if b.box.Dx() < b.box.Dy() {
		d = 1
	}
	d *= min(b.box.Dx(), b.box.Dy())
	stays := func(k int) bool {
		return k >= 0 && k < len(s.a.px) && s.a.px[k] == s.b.px[k] && s.a.px[k] != ground
	}
	for _, i := range b.px {
		p, q := int(i)-d, int(i)+d
		same := p >= 0 && q < len(s.a.px) && s.a.px[p] == s.a.px[i] && s.a.px[q] == s.a.px[i]
		if same || s.a.px[i] == ground && !stays(p) && !stays(q) {
			n++
		}
	}
	return n*10 >= 9*len(b.px)
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
	below, above := touching(d)*2 <= len(b.px), touching(-d)*2 <= len(b.px)
	if max(b.box.Dx(), b.box.Dy()) <= 12 {
		return below && above // the tops of letters are as small
	}
	return below || above
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
