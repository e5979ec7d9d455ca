package group

import (
	"image"
	"math"
	"slices"

	"github.com/fascia-bench/fascia/compare"
)

// What is too little to tell by itself where it came from has come along with something that was carried off if the
// same displacement, applied to it before, gives what is there after: that is evidence, where being alike is none.

// A move is a displacement that a look has, and where.
type move struct {
	d  image.Point
	at image.Rectangle
}

func movesOf(regions []Region) (out []move) {
	for _, r := range regions {
		if r.Cause == "moved" {
			dx, _ := r.Detail["dx"].(int)
			dy, _ := r.Detail["dy"].(int)
			out = append(out, move{image.Pt(dx, dy), r.Rect()})
		}
	}
	return out
}

// along gives the displacement that carries content from before, as it is without what other reasons explain, to
// after. Of several the one with the fewest pixels that do not fit is taken, as a line is carried along itself to anywhere
// but for its ends; of those that of the nearest region.
func (s *scene) along(box image.Rectangle, from, to []int32, was plane, moves []move, hidden []bool) (best image.Point, ok bool) {
	most, most2 := len(from)/12, len(to)/12
	if min(box.Dx(), box.Dy()) <= 2 {
		most, most2 = 0, 0 // only its ends tell how far a line was carried
	}
	least, near := most+most2+1, math.MaxInt
	tried := map[image.Point]int{}
	for _, m := range moves {
		bad, done := tried[m.d]
		if !done {
			bad = math.MaxInt
			if there := misfits(from, was, s.a, m.d, most, hidden); there <= most {
				if back := misfits(to, s.a, was, image.Pt(-m.d.X, -m.d.Y), most2, nil); back <= most2 {
					bad = there + back
				}
			}
			tried[m.d] = bad
		}
		if by := gap(box, m.at); bad < least || bad == least && by < near {
			best, least, near, ok = m.d, bad, by, true
		}
	}
	return best, ok
}

// gap is how far two boxes are apart, along the axis where they are further; 0 where they touch.
func gap(a, b image.Rectangle) int {
	both := a.Union(b)
	return max(0, both.Dx()-a.Dx()-b.Dx(), both.Dy()-a.Dy()-b.Dy())
}

// unmoved is before without what other reasons than displacements explain: all that was carried off stands where it
// stood, and so does what a row that was not redrawn hides now.
func (s *scene) unmoved(regions []Region, rest plane) (was plane, hidden []bool) {
	was, hidden = rest.clone(), s.hidden
	own := false
	for i := range regions {
		switch r := &regions[i]; r.Cause {
		case "stale":
			if !own { // s.hidden stays as it is
				hidden, own = make([]bool, len(was.px)), true
				copy(hidden, s.hidden)
			}
			set(hidden, r.mask, was.w, true)
			s.restore(was, r.mask)
		case "moved":
			s.restore(was, r.mask)
		}
	}
	return was, hidden
}

// restore puts pixels back as they were before, recoloured if they were.
func (s *scene) restore(was plane, mask []span) {
	for _, q := range mask {
		for i := q.y*int32(was.w) + q.x0; i < q.y*int32(was.w)+q.x1; i++ {
			if c, ok := s.before[i]; ok {
				was.px[i] = c
			} else {
				was.px[i] = s.b.px[i]
			}
		}
	}
}

// mayBeChance reports whether a region may have got its cause by chance, being so little: pixels that are as they
// were on the look before, or that a pair of colours takes which is common elsewhere.
func (r *Region) mayBeChance() bool {
	return r.Cause == "stale" && !r.kept && r.Pixels <= 2*chancePixels || r.Cause == "recoloured" && r.Pixels <= rimPixels
}

// comeAlong gives what is unexplained, and what may be explained by chance, to a displacement that its look has
// elsewhere, if that carries it. With chances, only the latter is looked at.
func (s *scene) comeAlong(regions []Region, rest plane, chances bool) {
	moves := movesOf(regions)
	if len(moves) == 0 {
		return
	}
	var was plane
	var hidden []bool
	for i := range regions {
		r := &regions[i]
		c := r.Cause
		chance := r.mayBeChance()
		if !chance && (chances || c != "missing" && c != "added" && !unsure(c)) {
			continue
		}
		if c == "recoloured" && !slices.ContainsFunc(moves, func(m move) bool { return r.Rect().Overlaps(m.at.Inset(-3)) }) {
			continue
		}
		if was.px == nil {
			was, hidden = s.unmoved(regions, rest)
		}
		b := r.blob(s.b.w)
		if chance {
			s.restore(was, r.mask)
		}
		if c == "stale" { // it is in question itself whether it hides anything
			set(hidden, r.mask, was.w, false)
		}
		from, to := s.content(b, was)
		// A rim may have changed by little, but it lies on what moved.
		if 2*(len(from)+len(to)) >= len(b.px) && (c == "recoloured" || s.bold(b, was)) {
			if d, ok := s.along(b.box, from, to, was, moves, hidden); ok {
				r.Cause, r.Detail = "moved", compare.Detail{"dx": d.X, "dy": d.Y}
				continue
			}
		}
		switch c { // it stays explained
		case "recoloured":
			for _, i := range b.px {
				was.px[i] = rest.px[i]
			}
		case "stale":
			set(hidden, r.mask, was.w, true)
		}
	}
}

func set(mask []bool, spans []span, w int, to bool) {
	for _, q := range spans {
		for i := int(q.y)*w + int(q.x0); i < int(q.y)*w+int(q.x1); i++ {
			mask[i] = to
		}
	}
}
