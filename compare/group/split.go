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
func (l *look) split(pairs []Pair, i int, at *shelf, rules []rule, moves []image.Point) error {
	if l.same || l.whole || !slices.ContainsFunc(l.regions, func(r Region) bool { return unsure(r.Cause) }) {
		return nil
	}
	s, _, _, err := l.peeled(pairs, i, at, rules)
	if err != nil {
		return err
	}
	rest, had := s.rest(), coloursOf(s.b)
	var out []Region
	for _, r := range l.regions {
		if !unsure(r.Cause) {
			out = append(out, r)
			continue
		}
		parts := s.apart(r, rest, moves)
		for k := range parts {
			if len(parts) > 1 || parts[k].Cause != r.Cause {
				p := &parts[k]
				p.Seen = s.see(p.mask, p.Pixels)
				if p.Cause == "moved" && p.Seen == Yes && shortMove(p.Detail) {
					p.Seen = Subtle
				}
				s.describe(p, rest, had)
			}
		}
		out = append(out, parts...)
	}
	l.regions = out
	return nil
}

// apart returns the parts of a region, or the region itself where they are no clearer.
func (s *scene) apart(r Region, rest plane, moves []image.Point) []Region {
	w, h := s.a.w, s.a.h
	mask := make([]bool, w*h)
	for _, q := range r.mask {
		for i := int(q.y)*w + int(q.x0); i < int(q.y)*w+int(q.x1); i++ {
			mask[i] = true
		}
	}
	var out []Region
	left := r.Pixels
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

func (s *scene) remainder(mask []bool, cause string) (out []Region) {
	for _, b := range blobs(mask, s.a.w, s.a.h, 5) {
		out = append(out, regionOf(b, cause, nil))
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
	res := compare.Compare(p.image(), q.image(), compare.Options{})
	if len(res.Regions) == 1 && !wholePanel[res.Causes[0].Cause] {
		return regionOf(b, res.Regions[0].Cause, res.Regions[0].Detail)
	}
	return regionOf(b, "other", nil)
}
