package group

// staleRows are the rows that were not redrawn on some look; nil unless that is so on several. A few pixels in a row are
// as they were by chance.
func staleRows(looks []look) map[int]bool {
	rows, n := map[int]bool{}, 0
	for _, l := range looks {
		if on := strippedRows(l.regions); len(on) > 0 {
			n++
			for y := range on {
				rows[y] = true
			}
		}
	}
	if n < 2 {
		return nil
	}
	return rows
}

// stripPixels is how many pixels of a row must be as they were on the look before to count as not redrawn: fewer are so
// by chance.
const stripPixels = 8

// strippedRows are the rows of one look of which more was not redrawn than may be so by chance.
func strippedRows(regions []Region) map[int]bool {
	var px map[int]int
	for _, r := range regions {
		if r.Cause != "stale" || r.H > 2 {
			continue
		}
		if px == nil {
			px = map[int]int{}
		}
		for _, q := range r.mask {
			px[int(q.y)] += int(q.x1 - q.x0)
		}
	}
	out := map[int]bool{}
	for y, n := range px {
		if n >= stripPixels {
			out[y] = true
		}
	}
	return out
}

// hasRow reports whether a region has pixels on one of some rows.
func (r *Region) hasRow(rows map[int]bool) bool {
	for y := r.Y; y < r.Y+r.H; y++ {
		if rows[y] {
			return true
		}
	}
	return false
}

// withoutStrips takes out of doubtful regions what was not redrawn of them, in rows that other looks have not redrawn
// either: a strip under a line of letters makes one shape of them, which reads as nothing.
func (s *scene) withoutStrips(regions []Region, rest plane, rows map[int]bool, doubtful func(*Region) bool) (out []Region) {
	for _, r := range regions {
		var cut []blob
		mask := make([]bool, len(s.open))
		if rows != nil && doubtful(&r) && r.hasRow(rows) {
			mark(mask, r.mask, s.a.w)
			cut = s.strips(r, mask, rows)
		}
		if len(cut) == 0 {
			out = append(out, r)
			continue
		}
		had := coloursOf(s.b)
		add := func(q Region) {
			q.Seen = s.seen(&q)
			s.describe(&q, q.Rect(), rest, had)
			out = append(out, q)
		}
		for _, b := range cut {
			add(regionOf(b, "stale", nil))
			for _, i := range b.px {
				mask[i] = false
			}
		}
		for _, q := range s.remainder(mask, r.Cause) {
			q.Detail = r.Detail
			add(q)
		}
	}
	return out
}

// longStrip is a stretch of a row, in a row that other looks have not redrawn, of which any colour is told.
const longStrip = 24

// strips finds rows of a region in which pixels changed boldly while those above and below did not: where
// other looks have rows that were not redrawn, these were not either. In the very rows of those looks a
// change need not be as bold.
func (s *scene) strips(r Region, mask []bool, rows map[int]bool) []blob {
	w := s.a.w
	got := make([]bool, len(mask))
	for _, q := range r.mask {
		from, bold := q.x0, 48
		if rows[int(q.y)] {
			bold = 32
			if q.x1-q.x0 >= longStrip {
				bold = faintStep + 1
			}
		}
		for x := q.x0; x <= q.x1; x++ {
			i := int(q.y)*w + int(x)
			if x < q.x1 && step(s.b.px[i], s.a.px[i]) >= bold && !(q.y > 0 && mask[i-w]) && !(int(q.y) < s.a.h-1 && mask[i+w]) {
				continue
			}
			if x-from >= 16 || x-from >= 4 && rows[int(q.y)] {
				for k := from; k < x; k++ {
					got[int(q.y)*w+int(k)] = true
				}
				// What hangs on its ends in the same row is of the strip as well.
				for k := from - 1; k >= q.x0 && step(s.b.px[int(q.y)*w+int(k)], s.a.px[int(q.y)*w+int(k)]) >= bold; k-- {
					got[int(q.y)*w+int(k)] = true
				}
			}
			from = x + 1
		}
	}
	return blobs(got, s.a.w, s.a.h, 5)
}
