package group

import (
	"image"
	"slices"

	"github.com/fascia-bench/fascia/compare"
)

// commonMoves are the displacements that several looks have, the commonest first.
func commonMoves(looks []look) []image.Point {
	seen := map[image.Point]int{}
	for _, l := range looks {
		own := map[image.Point]bool{}
		for _, r := range l.regions {
			if r.Cause == "moved" {
				dx, _ := r.Detail["dx"].(int)
				dy, _ := r.Detail["dy"].(int)
				own[image.Pt(dx, dy)] = true
			}
		}
		for p := range own {
			seen[p]++
		}
	}
	var out []image.Point
	for p, n := range seen {
		if n >= 2 {
			out = append(out, p)
		}
	}
	slices.SortFunc(out, func(a, b image.Point) int {
		if d := seen[b] - seen[a]; d != 0 {
			return d
		}
		if a.Y != b.Y {
			return a.Y - b.Y
		}
		return a.X - b.X
	})
	return out[:min(len(out), 8)]
}

// unsure are causes that may be the sum of two.
func unsure(cause string) bool { return cause == "other" || cause == "text" || cause == "resized" }

// split takes apart what nothing explained as one: displacements known from elsewhere are taken out, and
// what then lies apart is looked at by itself.
func (l *look) split(pairs []Pair, i int, at *shelf, known *known) error {
	doubtful := func(r *Region) bool { return unsure(r.Cause) || r.Cause == "edges" && r.hasRow(known.strips) }
	open := func(r Region) bool {
		return doubtful(&r) || r.Cause == "missing" || r.Cause == "added" || r.Cause == "stale" && r.Pixels <= 24
	}
	if l.same || l.whole || !slices.ContainsFunc(l.regions, open) {
		return nil
	}
	s, err := l.again(pairs, i, at)
	if err != nil {
		return err
	}
	rest, had := s.rest(), coloursOf(s.b)
	s.comeAlong(l.regions, rest, false) // before anything is read as text: what a displacement explains is no other letter
	var out []Region
	fresh := map[int]bool{}
	var regions []Region
	for _, r := range s.redrawn(s.withoutStrips(l.regions, rest, known.strips, doubtful), rest) {
		if unsure(r.Cause) {
			regions = append(regions, s.ended(r, rest)...)
		} else {
			regions = append(regions, r)
		}
	}
	for _, r := range regions {
		if !doubtful(&r) {
			out = append(out, r)
			continue
		}
		parts := s.apart(r, rest, known.moves, known.strips)
		for k := range parts {
			if p := &parts[k]; unsure(p.Cause) && s.oneSided(p.blob(s.b.w), rest, groundOf(s.a, rest, p.Rect())) == "missing" {
				p.Cause, p.Detail = "missing", compare.Detail{}
			}
			fresh[len(out)+k] = len(parts) > 1 || parts[k].Cause != r.Cause
		}
		out = append(out, parts...)
	}
	lines := linesOf(out)
	for k := range out {
		if r := &out[k]; fresh[k] {
			r.Seen = s.seen(r)
			s.describe(r, lines[k], rest, had)
		}
	}
	s.comeAlong(out, rest, false)
	l.regions, l.before = out, nil
	return nil
}

// apart returns the parts of a region, or the region itself where they are no clearer.
func (s *scene) apart(r Region, rest plane, moves []image.Point, strips map[int]bool) []Region {
	w, h := s.a.w, s.a.h
	mask := make([]bool, w*h)
	for _, q := range r.mask {
		for i := int(q.y)*w + int(q.x0); i < int(q.y)*w+int(q.x1); i++ {
			mask[i] = true
		}
	}
	var out []Region
	left := r.Pixels
	if strips != nil {
		for _, b := range s.strips(r, mask, strips) {
			out = append(out, regionOf(b, "stale", nil))
			left -= len(b.px)
			for _, i := range b.px {
				mask[i] = false
			}
		}
	}
	if rims := s.rims(spansOf(mask, w), rest); rims && len(out) == 0 {
		r.Cause, r.Detail = "edges", compare.Detail{}
		return []Region{r}
	} else if rims {
		return append(out, s.remainder(mask, "edges")...)
	}
	if r.Cause == "edges" {
		if len(out) == 0 {
			return []Region{r}
		}
		return append(out, s.remainder(mask, "edges")...)
	}
	for _, d := range moves {
		got := s.carried(r, rest, d, mask)
		if n := count(got); n*10 >= r.Pixels*4 && n >= 12 && n >= left/2 {
			for _, b := range blobs(got, w, h, 5) {
				out = append(out, regionOf(b, "moved", compare.Detail{"dx": d.X, "dy": d.Y}))
				for _, i := range b.px {
					mask[i] = false
				}
				left -= len(b.px)
			}
		}
	}
	if left == 0 {
		return out
	}
	fine := blobs(mask, w, h, 1)
	if len(fine) > 60 || len(out) == 0 && len(fine) == 1 {
		if len(out) == 0 {
			return []Region{r}
		}
		return append(out, s.remainder(mask, r.Cause)...)
	}
	clear := 0
	var parts []Region
	for _, b := range fine {
		p := s.explainAlone(b, rest)
		if p.Cause == "moved" || p.Cause == "edges" || p.Cause == "recoloured" || p.Cause == "shade" {
			clear += p.Pixels
			for _, i := range b.px {
				mask[i] = false
			}
			parts = append(parts, p)
		}
	}
	if len(out) == 0 && clear*10 < r.Pixels*6 {
		return []Region{r}
	}
	return append(append(out, parts...), s.remainder(mask, "other")...)
}

// rims reports whether pixels changed only within the colours that meet around them, and none from one of
// these to the other, unless they are next to equal anyway: other edges of what is still there.
func (s *scene) rims(mask []span, was plane) bool {
	n, off := 0, 0
	for _, q := range mask {
		n += int(q.x1 - q.x0)
	}
	for _, q := range mask {
		for x := int(q.x0); x < int(q.x1); x++ {
			if off*20 > n {
				return false
			}
			i := int(q.y)*s.a.w + x
			top, stray := 0, false
			for k := 0; k <= 16; k += 8 {
				bLo, bHi, aLo, aHi := 255, 0, 255, 0
				around(x, int(q.y), s.a.w, s.a.h, 1, func(j int) {
					b, a := int(was.px[j]>>k&0xff), int(s.a.px[j]>>k&0xff)
					bLo, bHi, aLo, aHi = min(bLo, b), max(bHi, b), min(aLo, a), max(aHi, a)
				})
				b, a := int(was.px[i]>>k&0xff), int(s.a.px[i]>>k&0xff)
				stray = stray || a < bLo-4 || a > bHi+4 || b < aLo-4 || b > aHi+4
				top = max(top, bHi-bLo, aHi-aLo)
			}
			if stray || top == 0 || top >= 24 && step(was.px[i], s.a.px[i])*8 > top*5 {
				off++
			}
		}
	}
	return off*20 <= n
}

func (s *scene) remainder(mask []bool, cause string) (out []Region) {
	for _, b := range blobs(mask, s.a.w, s.a.h, 5) {
		out = append(out, regionOf(b, cause, nil))
	}
	return out
}

func spansOf(mask []bool, w int) (out []span) {
	for i, m := range mask {
		if !m {
			continue
		}
		x, y := int32(i%w), int32(i/w)
		if n := len(out); n > 0 && out[n-1].y == y && out[n-1].x1 == x {
			out[n-1].x1++
		} else {
			out = append(out, span{y, x, x + 1})
		}
	}
	return out
}

func count(mask []bool) (n int) {
	for _, m := range mask {
		if m {
			n++
		}
	}
	return n
}

// carried marks the pixels of a region that a displacement explains: content that came from there, and
// ground where it was.
func (s *scene) carried(r Region, b plane, d image.Point, mask []bool) []bool {
	got := make([]bool, len(mask))
	w, h, ground := s.a.w, s.a.h, r.feat.ground
	at := func(x, y int) (int, bool) { return y*w + x, x >= 0 && y >= 0 && x < w && y < h }
	for y := r.Y; y < r.Y+r.H; y++ {
		for x := r.X; x < r.X+r.W; x++ {
			i := y*w + x
			if !mask[i] {
				continue
			}
			if k, ok := at(x-d.X, y-d.Y); ok && s.a.px[i] != ground && b.px[k] == s.a.px[i] {
				got[i] = true
			} else if k, ok := at(x+d.X, y+d.Y); ok && s.a.px[i] == ground && b.px[i] != ground && s.a.px[k] == b.px[i] {
				got[i] = true
			}
		}
	}
	return got
}

// explainAlone names the cause of some pixels as if nothing else had changed.
func (s *scene) explainAlone(b blob, rest plane) Region {
	crop := b.box.Inset(-24).Intersect(s.a.rect())
	p, q := plane{crop.Dx(), crop.Dy(), nil}, plane{crop.Dx(), crop.Dy(), nil}
	for y := crop.Min.Y; y < crop.Max.Y; y++ {
		row := s.a.px[y*s.a.w+crop.Min.X : y*s.a.w+crop.Max.X]
		p.px, q.px = append(p.px, row...), append(q.px, row...)
	}
	for _, i := range b.px {
		x, y := int(i)%s.a.w-crop.Min.X, int(i)/s.a.w-crop.Min.Y
		p.px[y*p.w+x] = rest.px[i]
	}
	res := compare.Compare(p.image(), q.image(), compare.Options{Parts: true})
	if len(res.Regions) == 1 && !wholePanel[res.Causes[0].Cause] {
		return regionOf(b, res.Regions[0].Cause, res.Regions[0].Detail)
	}
	return regionOf(b, "other", nil)
}
