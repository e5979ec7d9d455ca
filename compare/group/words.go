package group

import (
	"image"
	"slices"
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
	lines := s.linesUp(pieces)
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
		fit, box, end := s.reads(was, line, pieces, own, owner, strokes)
		if !fitsAny(pieces, own, fit, box) {
			// What is gone, or new, keeps the others from being read as they were.
			if some := slices.DeleteFunc(slices.Clone(own), func(k int) bool {
				return s.oneSided(pieces[k].blob, was, regions[pieces[k].region].feat.ground) != ""
			}); len(some) > 0 && len(some) < len(own) {
				line = image.Rectangle{}
				for _, k := range some {
					line = line.Union(pieces[k].box)
				}
				own = some
				fit, box, end = s.reads(was, line, pieces, own, owner, strokes)
			}
		}
		if fit == nil {
			continue
		}
		if end < box.Max.X {
			pieces, own = cutAt(end, pieces, own, owner, s.b.w)
		}
		pieces[own[0]].tried = true
		reading, beyond := false, 0
		if k < len(lines) {
			read = append(read, line)
		}
		for _, k := range own {
			pieces[k].fits = pieces[k].fitsIn(fit, box)
			fits = fits || pieces[k].fits
			reading = reading || pieces[k].fits
			if pieces[k].box.Min.X >= end {
				beyond += len(pieces[k].px)
			}
		}
		for _, k := range own {
			p := &pieces[k]
			p.gone = reading && p.box.Min.X >= end && beyond > chancePixels           // beyond the end of what still reads
			p.fits = p.fits || !p.gone && slices.ContainsFunc(own, func(q int) bool { // the tail of a letter that fits
				return pieces[q].fits && len(pieces[q].px) > len(p.px) && s.parts(pieces[q].box, p.box)
			})
		}
	}
	if !fits {
		return regions
	}
	return s.parted(regions, pieces)
}

// reads holds some pieces of a line, and no others, against each other before and after, and gives where that was.
func (s *scene) reads(was plane, line image.Rectangle, pieces []piece, own []int, owner []int32, strokes int) (fit []float64, box image.Rectangle, end int) {
	box = line.Inset(-1).Intersect(s.a.rect())
	ground := groundOf(s.a, was, line)
	mine := map[int32]bool{}
	for _, k := range own {
		mine[int32(k+1)] = true
	}
	p, q := was.crop(box), s.a.crop(box)
	for y := range box.Dy() {
		for x := range box.Dx() {
			if i := (box.Min.Y+y)*s.b.w + box.Min.X + x; owner[i] < 0 || s.open[i] && !mine[owner[i]] || s.hidden != nil && s.hidden[i] {
				p.px[y*p.w+x], q.px[y*p.w+x] = ground, ground
			}
		}
	}
	fit, end = reads(p, q, ground, strokes)
	return fit, box, box.Min.X + end
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

// oneSided gives the cause of what is there only before, or only after, if it is as large as a letter; else nothing.
func (s *scene) oneSided(b blob, was plane, ground uint32) string {
	if min(b.box.Dx(), b.box.Dy()) < 6 {
		return ""
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
	switch {
	case min(before, after)*20 > len(b.px) || max(before, after)*2 < len(b.px):
		return ""
	case before > after:
		return "missing"
	}
	return "added"
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
