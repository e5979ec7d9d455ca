package group

import "image"

// What follows finds rows, or columns, that a partial refresh did not reach. Such a line is on all its length what the
// previous look showed, whatever else has changed on both looks; of a line that was redrawn that is not so, unless nothing
// of it should have changed. What ought to stand there cannot be seen.

// line is a row of the panel, or a column.
type line struct {
	column bool
	at     int
}

// kept is a stretch of a line that was not redrawn.
type kept struct {
	line
	from, to int
}

// How many pixels must show what they should no longer show: fewer on a whole row, the more in a part of it, as letters may
// have a stroke in common; the fewest where other looks have such a line.
const (
	keptInRow  = 8
	keptInPart = 24
	keptKnown  = 4
	keptLines  = 2 // beside each other; more are a part of the picture, of which package compare and seam tell
)

// keptLines finds the lines that were not redrawn. known are those of other looks.
func (s *scene) keptLines(known map[line]bool) (out []kept) {
	if s.pa == nil {
		return nil
	}
	rows, columns := s.due()
	for _, column := range [2]bool{false, true} {
		due, m := rows, s.a.w
		if column {
			due, m = columns, s.a.h
		}
		var run []kept
		last := -2
		flush := func() {
			if len(run) > 0 && last-run[0].at < keptLines {
				out = append(out, run...)
			}
			run = nil
		}
		for at, n := range due {
			if n < keptKnown {
				continue
			}
			l := line{column, at}
			got := s.keptIn(l, m, known[l])
			if len(got) == 0 {
				continue
			}
			if at != last+1 {
				flush()
			}
			run, last = append(run, got...), at
		}
		flush()
	}
	return out
}

// due counts in each row and column the pixels that should have changed since the previous look and did not.
func (s *scene) due() (rows, columns []int) {
	w := s.a.w
	rows, columns = make([]int, s.a.h), make([]int, w)
	for i, o := range s.open {
		if o && s.isDue(i) {
			rows[i/w]++
			columns[i%w]++
		}
	}
	return rows, columns
}

// isDue reports whether a pixel should have changed since the previous look, and did not. What a recolouring explains may be
// as it was by chance.
func (s *scene) isDue(i int) bool {
	return s.open[i] && near(s.a.px[i], s.pa.px[i]) && !near(s.b.px[i], s.pb.px[i]) && !s.recolours[rule{s.b.px[i], s.a.px[i]}]
}

// near reports whether two colours are the same but for what is lost between panels of different depth.
func near(a, b uint32) bool { return a == b || step(a, b) <= 2*faintStep }

// keptIn finds the stretches of a line of so many pixels that were not redrawn.
func (s *scene) keptIn(l line, m int, known bool) (out []kept) {
	i, d := l.pixel(s.a.w)
	from, due := 0, 0
	for k := 0; k <= m; k, i = k+1, i+d {
		if k < m && near(s.a.px[i], s.pa.px[i]) {
			if s.isDue(i) {
				due++
			}
			continue
		}
		least := keptInPart
		switch {
		case known:
			least = keptKnown
		case k-from == m && !l.column:
			least = keptInRow
		}
		if q := (kept{l, from, k}); due >= least && s.shown(q) >= least {
			out = append(out, q)
		}
		from, due = k+1, 0
	}
	return out
}

// pixel gives the index of a line's first pixel, and the way to the next one.
func (l line) pixel(w int) (first, next int) {
	if l.column {
		return l.at, w
	}
	return l.at * w, 1
}

// shown counts the pixels of a stretch that should have changed and visibly did not: where there is now only what
// lies around, something may as well have gone, and other edges, or what shines through, may be as they were because the
// previous look was not redrawn there.
func (s *scene) shown(q kept) (n int) {
	const join = 5
	first, next := q.pixel(s.a.w)
	var b blob
	last := 0
	end := func() {
		if len(b.px) > 0 && !s.rims(b.mask, s.b) {
			n += len(b.px) - s.baring(b)
		}
		b = blob{}
	}
	for k := q.from; k < q.to; k++ {
		i := first + k*next
		if !s.isDue(i) || s.tint(i) {
			continue
		}
		if k-last > join {
			end()
		}
		last = k
		x, y := i%s.a.w, i/s.a.w
		b.box = b.box.Union(image.Rect(x, y, x+1, y+1))
		b.px = append(b.px, int32(i))
		b.mask = append(b.mask, span{int32(y), int32(x), int32(x + 1)})
	}
	end()
	return n
}

// tint reports whether a pixel is what a recolouring makes of a mixture with its first colour.
func (s *scene) tint(i int) bool {
	for r := range s.recolours {
		if mixed(s.b.px[i], s.a.px[i], r, 14) {
			return true
		}
	}
	return false
}

// keep peels what differs in lines that were not redrawn, but for what changed just so beside the line as well.
func (s *scene) keep(lines []kept) []blob {
	if len(lines) == 0 {
		return nil
	}
	mask := make([]bool, len(s.open))
	for _, q := range lines {
		across := s.a.w
		if q.column {
			across = 1
		}
		first, next := q.pixel(s.a.w)
		for k := q.from; k < q.to; k++ {
			i := first + k*next
			mask[i] = mask[i] || s.open[i] && (s.isDue(i) || !s.changedSo(i, i-across) && !s.changedSo(i, i+across))
		}
	}
	out := blobs(mask, s.a.w, s.a.h, 5)
	for _, b := range out {
		s.take(b.px)
	}
	return out
}

// changedSo reports whether pixel k changed as pixel i did.
func (s *scene) changedSo(i, k int) bool {
	return k >= 0 && k < len(s.open) && s.open[k] && s.b.px[k] == s.b.px[i] && s.a.px[k] == s.a.px[i]
}

// hide marks the pixels of lines that were not redrawn, of which it is not known what they should be; nil if there are none.
func hide(lines []kept, p plane) []bool {
	if len(lines) == 0 {
		return nil
	}
	out := make([]bool, len(p.px))
	for _, q := range lines {
		first, next := q.pixel(p.w)
		for k := q.from; k < q.to; k++ {
			out[first+k*next] = true
		}
	}
	return out
}

// commonLines are the lines that several looks have not redrawn.
func commonLines(looks []look) map[line]bool {
	seen, out := map[line]int{}, map[line]bool{}
	for _, l := range looks {
		for _, q := range l.kept {
			if seen[q.line]++; seen[q.line] == 2 {
				out[q.line] = true
			}
		}
	}
	return out
}

// bare reports whether a strip is now as bare as what is around it, and cuts off nothing that stayed on either
// side: something is gone from there, whether or not it was there on the look before.
func (s *scene) bare(b blob) bool { return s.baring(b)*10 >= 9*len(b.px) }

// baring counts the pixels of which that is so.
func (s *scene) baring(b blob) (n int) {
	ground := groundOf(s.a, s.b, b.box)
	d := s.b.w
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
	return n
}
