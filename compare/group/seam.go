package group

import "image"

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
