package group

import "math"

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
