package group

import (
	"image"
	"slices"

	"github.com/fascia-bench/fascia/compare"
)

// misfit is how badly a piece of a line may fit and still be the same letters, on average over its width.
// Of 60 pairs of labels drawn with and without hinting half stayed below 0.33 in their worst column, and all below
// 0.60; labels with other words began at 0.65.
const misfit = 0.45

// redrawn finds lines of text that read as they did but are drawn in another way, and makes one cause of
// their regions. What does not fit in its place in the line stays what it was.
func (s *scene) redrawn(regions []Region, was plane) []Region {
	var pieces []piece
	owner := make([]int32, len(s.open)) // piece of a pixel plus one; -1 where it was carried or left
	for i := range regions {
		switch r := &regions[i]; r.Cause {
		case "moved", "stale":
			for _, q := range r.mask {
				for k := int(q.y)*s.b.w + int(q.x0); k < int(q.y)*s.b.w+int(q.x1); k++ {
					owner[k] = -1
				}
			}
		case "edges", "text", "other", "resized", "missing", "added":
			mask := make([]bool, len(s.open))
			for _, q := range r.mask {
				if !s.ruled(q, r.feat.ground) { // letters may reach across it
					mark(mask, []span{q}, s.b.w)
				}
			}
			for _, b := range blobs(mask, s.b.w, s.b.h, 1) {
				if b.box.Dy() > tallest || b.box.Dy() <= 2 && b.box.Dx() > tallest {
					continue // no letter
				}
				pieces = append(pieces, piece{blob: b, region: i})
				for _, k := range b.px {
					owner[k] = int32(len(pieces))
				}
			}
		}
	}
	lines := linesUp(pieces)
	fits := false
	var read []image.Rectangle
	// A line of several letters says that text is drawn otherwise; only then are a few strokes text, too.
	order := slices.Clone(lines)
	for k, own := range append(order, lines...) {
		strokes := 4
		if k >= len(lines) {
			strokes = 2
		}
		if strokes == 2 && (len(read) == 0 || pieces[own[0]].tried) {
			continue
		}
		var line image.Rectangle
		settled := true // whether a short one is text is told by its shape
		for _, k := range own {
			line = line.Union(pieces[k].box)
			settled = settled && regions[pieces[k].region].Cause == "edges"
		}
		if settled && line.Dx() < 2*line.Dy() || line.Dx() < 5 || line.Dy() < 5 {
			continue
		}
		if strokes == 2 && slices.ContainsFunc(read, func(r image.Rectangle) bool { return inRows(r, line) }) {
			strokes = 1 // the figure at the end of a row
		}
		fit, box := s.reads(was, line, pieces, own, owner, strokes)
		if !fitsAny(pieces, own, fit, box) {
			// What is gone, or new, keeps the others from being read as they were.
			if some := slices.DeleteFunc(slices.Clone(own), func(k int) bool {
				return s.oneSided(pieces[k].blob, was, regions[pieces[k].region].feat.ground)
			}); len(some) > 0 && len(some) < len(own) {
				line = image.Rectangle{}
				for _, k := range some {
					line = line.Union(pieces[k].box)
				}
				own = some
				fit, box = s.reads(was, line, pieces, own, owner, strokes)
			}
		}
		if fit == nil {
			continue
		}
		pieces[own[0]].tried = true
		if k < len(lines) {
			read = append(read, line)
		}
		for _, k := range own {
			pieces[k].fits = pieces[k].fitsIn(fit, box)
			fits = fits || pieces[k].fits
		}
	}
	if !fits {
		return regions
	}
	return s.parted(regions, pieces)
}

// reads holds some pieces of a line, and no others, against each other before and after, and gives where that was.
func (s *scene) reads(was plane, line image.Rectangle, pieces []piece, own []int, owner []int32, strokes int) ([]float64, image.Rectangle) {
	box := line.Inset(-1).Intersect(s.a.rect())
	ground := groundOf(s.a, was, line)
	mine := map[int32]bool{}
	for _, k := range own {
		mine[int32(k+1)] = true
	}
	p, q := was.crop(box), s.a.crop(box)
	for y := range box.Dy() {
		for x := range box.Dx() {
			if i := (box.Min.Y+y)*s.b.w + box.Min.X + x; owner[i] < 0 || s.open[i] && !mine[owner[i]] {
				p.px[y*p.w+x], q.px[y*p.w+x] = ground, ground
			}
		}
	}
	return reads(p, q, ground, strokes), box
}

// fitsIn reports whether a piece fits where it stands, by how badly the columns of a line in a box do.
func (p *piece) fitsIn(fit []float64, box image.Rectangle) bool {
	sum := 0.0
	for x := p.box.Min.X; x < p.box.Max.X; x++ {
		sum += fit[x-box.Min.X]
	}
	return sum <= misfit*float64(p.box.Dx())
}

func fitsAny(pieces []piece, own []int, fit []float64, box image.Rectangle) bool {
	return fit != nil && slices.ContainsFunc(own, func(k int) bool { return pieces[k].fitsIn(fit, box) })
}

// oneSided reports whether a piece as large as a letter is there only before, or only after.
func (s *scene) oneSided(b blob, was plane, ground uint32) bool {
	if min(b.box.Dx(), b.box.Dy()) < 6 {
		return false
	}
	before, after := 0, 0
	for _, i := range b.px {
		if step(was.px[i], ground) > faintInk {
			before++
		}
		if step(s.a.px[i], ground) > faintInk {
			after++
		}
	}
	return min(before, after)*20 <= len(b.px) && max(before, after)*2 >= len(b.px)
}

// ruled reports whether a stretch of a row is of a line that was drawn, or that now is: long, and of one colour.
func (s *scene) ruled(q span, ground uint32) bool {
	n := int(q.x1 - q.x0)
	if n <= tallest {
		return false
	}
	for _, p := range [2]plane{s.b, s.a} {
		count := map[uint32]int{}
		for i := int(q.y)*s.b.w + int(q.x0); i < int(q.y)*s.b.w+int(q.x1); i++ {
			count[p.px[i]]++
		}
		if c, k := commonest(count); c != ground && k*5 >= n*4 {
			return true
		}
	}
	return false
}

// piece is a part of a region that hangs together, a letter perhaps.
type piece struct {
	blob
	region int
	fits   bool
	tried  bool // its line was read
}

// parted takes the pieces that fit out of their regions.
func (s *scene) parted(regions []Region, pieces []piece) (out []Region) {
	for i := range regions {
		r := &regions[i]
		mask := make([]bool, len(s.open))
		n := 0
		for _, p := range pieces {
			if p.region == i && p.fits {
				mark(mask, p.mask, s.b.w)
				n += len(p.px)
			}
		}
		if n == 0 {
			out = append(out, *r)
			continue
		}
		drawn := func(q Region) {
			q.feat = r.feat
			q.feat.text, q.feat.cut, q.feat.line = true, false, true
			if q.Seen = s.see(q.mask, q.Pixels); q.Seen == Yes {
				q.Seen = Subtle
			}
			out = append(out, q)
		}
		if n == r.Pixels {
			q := *r
			q.Cause, q.Detail = "edges", compare.Detail{}
			drawn(q)
			continue
		}
		for _, b := range blobs(mask, s.b.w, s.b.h, 5) {
			drawn(regionOf(b, "edges", nil))
		}
		left := make([]bool, len(s.open))
		mark(left, r.mask, s.b.w)
		for k := range left {
			left[k] = left[k] && !mask[k]
		}
		for _, b := range blobs(left, s.b.w, s.b.h, 5) {
			q := regionOf(b, r.Cause, r.Detail)
			q.feat, q.Seen = r.feat, s.see(b.mask, len(b.px))
			q.feat.patch = 0
			out = append(out, q)
		}
	}
	return out
}

// linesUp puts pieces that stand beside each other into lines.
func linesUp(pieces []piece) (lines [][]int) {
	var boxes []image.Rectangle
	for i := range pieces {
		line, own := pieces[i].box, []int{i}
		for again := true; again; {
			again = false
			for k := len(lines) - 1; k >= 0; k-- {
				if inLine(line, boxes[k]) {
					line, own = line.Union(boxes[k]), append(own, lines[k]...)
					boxes, lines = append(boxes[:k], boxes[k+1:]...), append(lines[:k], lines[k+1:]...)
					again = true
				}
			}
		}
		boxes, lines = append(boxes, line), append(lines, own)
	}
	return lines
}

func mark(mask []bool, spans []span, w int) {
	for _, q := range spans {
		for i := int(q.y)*w + int(q.x0); i < int(q.y)*w+int(q.x1); i++ {
			mask[i] = true
		}
	}
}

// tallest is the height of a line of text at most, in px.
const tallest = 48

// inRows reports whether two boxes share half of the lower one's rows.
func inRows(a, b image.Rectangle) bool {
	return 2*(min(a.Max.Y, b.Max.Y)-max(a.Min.Y, b.Min.Y)) >= min(a.Dy(), b.Dy())
}

// inLine reports whether two boxes stand beside each other as words of a line do.
func inLine(a, b image.Rectangle) bool {
	both := a.Union(b)
	rows, gap := a.Dy()+b.Dy()-both.Dy(), both.Dx()-a.Dx()-b.Dx()
	low := min(a.Dy(), b.Dy())
	return both.Dy() <= tallest && 2*rows >= low && gap <= max(8, min(20, both.Dy()*3/4))
}
