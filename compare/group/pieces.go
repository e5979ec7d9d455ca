package group

import (
	"image"

	"github.com/fascia-bench/fascia/compare"
)

// piece is a part of a region that hangs together, a letter perhaps.
type piece struct {
	blob
	region int
	fits   bool
	gone   bool // of text that ends before it
	tried  bool // its line was read
}

// cutAt parts the pieces of a line at a column.
func cutAt(x int, pieces []piece, own []int, owner []int32, w int) ([]piece, []int) {
	for _, k := range own {
		p := pieces[k]
		if p.box.Min.X >= x || p.box.Max.X <= x {
			continue
		}
		var sides [2]blob
		for _, q := range p.mask {
			if int(q.x0) < x {
				sides[0].mask = append(sides[0].mask, span{q.y, q.x0, min(q.x1, int32(x))})
			}
			if int(q.x1) > x {
				sides[1].mask = append(sides[1].mask, span{q.y, max(q.x0, int32(x)), q.x1})
			}
		}
		for n := range sides {
			b := &sides[n]
			for _, q := range b.mask {
				b.box = b.box.Union(image.Rect(int(q.x0), int(q.y), int(q.x1), int(q.y)+1))
				for i := q.y*int32(w) + q.x0; i < q.y*int32(w)+q.x1; i++ {
					b.px = append(b.px, i)
				}
			}
		}
		pieces[k].blob = sides[0]
		pieces = append(pieces, piece{blob: sides[1], region: p.region, tried: p.tried})
		own = append(own, len(pieces)-1)
		for _, i := range sides[1].px {
			owner[i] = int32(len(pieces))
		}
	}
	return pieces, own
}

// ended parts text that is cut short where it ends now: what is beyond is gone, and what is before may have changed otherwise.
func (s *scene) ended(r Region, was plane) []Region {
	before, after := contentBox(was, r.Rect(), r.feat.ground), contentBox(s.a, r.Rect(), r.feat.ground)
	x, off := after.Max.X, after.Min.X-before.Min.X
	if !r.feat.text || !r.feat.cut || after.Empty() || max(off, -off) > 4 || x <= r.X || x >= r.X+r.W {
		return []Region{r}
	}
	owner := make([]int32, len(s.open))
	sides, own := cutAt(x, []piece{{blob: r.blob(s.b.w)}}, []int{0}, owner, s.b.w)
	if len(own) < 2 || len(sides[1].px) <= chancePixels {
		return []Region{r}
	}
	gone := regionOf(sides[1].blob, "missing", nil)
	gone.feat, gone.Seen = r.feat, s.see(gone.mask, gone.Pixels)
	gone.feat.patch = 0
	head := regionOf(sides[0].blob, r.Cause, r.Detail)
	head.Seen = s.seen(&head)
	s.describe(&head, head.Rect(), was, coloursOf(s.b))
	return []Region{head, gone}
}

// parted takes the pieces that fit, and those that are cut off, out of their regions.
func (s *scene) parted(regions []Region, pieces []piece) (out []Region) {
	for i := range regions {
		r := &regions[i]
		fit, gone := make([]bool, len(s.open)), make([]bool, len(s.open))
		fits, cut := 0, 0
		for _, p := range pieces {
			switch {
			case p.region != i:
			case p.fits:
				mark(fit, p.mask, s.b.w)
				fits += len(p.px)
			case p.gone:
				mark(gone, p.mask, s.b.w)
				cut += len(p.px)
			}
		}
		if fits+cut == 0 {
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
		if fits == r.Pixels {
			q := *r
			q.Cause, q.Detail = "edges", compare.Detail{}
			drawn(q)
			continue
		}
		for _, b := range blobs(fit, s.b.w, s.b.h, 5) {
			drawn(regionOf(b, "edges", nil))
		}
		rest := func(mask []bool, cause string, d compare.Detail, text, cut bool) {
			for _, b := range blobs(mask, s.b.w, s.b.h, 5) {
				q := regionOf(b, cause, d)
				q.feat, q.Seen = r.feat, s.see(b.mask, len(b.px))
				q.feat.patch = 0
				q.feat.text, q.feat.cut = text, cut
				out = append(out, q)
			}
		}
		if cut > 0 {
			rest(gone, "missing", nil, true, true)
		}
		left := make([]bool, len(s.open))
		mark(left, r.mask, s.b.w)
		for k := range left {
			left[k] = left[k] && !fit[k] && !gone[k]
		}
		rest(left, r.Cause, r.Detail, r.feat.text, r.feat.cut && cut == 0)
	}
	return out
}

// linesUp puts pieces that stand beside each other into lines, and what is above and below a line that was not redrawn.
func (s *scene) linesUp(pieces []piece) (lines [][]int) {
	var boxes []image.Rectangle
	for i := range pieces {
		line, own := pieces[i].box, []int{i}
		for again := true; again; {
			again = false
			for k := len(lines) - 1; k >= 0; k-- {
				if inLine(line, boxes[k]) || s.parts(line, boxes[k]) {
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

// parts reports whether two boxes, of which one stands above the other, meet where a row was not redrawn.
func (s *scene) parts(a, b image.Rectangle) bool {
	if a.Min.Y > b.Min.Y {
		a, b = b, a
	}
	x, gap := max(a.Min.X, b.Min.X), b.Min.Y-a.Max.Y
	if s.hidden == nil || x >= min(a.Max.X, b.Max.X) || max(gap, -gap) > keptLines || b.Max.Y-a.Min.Y > tallest {
		return false
	}
	for y := min(a.Max.Y-1, b.Min.Y); y <= max(a.Max.Y-1, b.Min.Y); y++ {
		if s.hidden[y*s.b.w+x] {
			return true
		}
	}
	return false
}
