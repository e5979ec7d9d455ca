package compare

import "math"

// recoloured: one rule turns the golden's colours into the capture's, and what was
// content still is.
func (p *pair) recoloured(r *region) *guess {
	type stat struct {
		n    int
		best int
		to   uint32
	}
	type key struct{ g, c uint32 }
	by := map[uint32]*stat{}
	both := map[key]int{}
	for _, i := range r.px {
		k := key{p.g.px[i], p.c.px[i]}
		s := by[k.g]
		if s == nil {
			s = &stat{}
			by[k.g] = s
		}
		s.n++
		both[k]++
		if n := both[k]; n > s.best || n == s.best && k.c < s.to {
			s.best, s.to = n, k.c
		}
	}
	n := len(r.px)
	ruled := 0
	var from, to uint32
	weight := -1.0
	for g, s := range by {
		ruled += s.best
		// The shape's own colour is common and far from the ground; blends are neither.
		w := float64(s.n) * float64(10+colourStep(g, r.ground.at(r.box.Min.X, r.box.Min.Y)))
		if w > weight || w == weight && g < from {
			from, to, weight = g, s.to, w
		}
	}
	if r.ground.sure && (p.groundShare(r, p.g) > 0.15 || p.groundShare(r, p.c) > 0.15) {
		return nil
	}
	// Colours that occur once obey any rule.
	rule := float64(ruled-len(by)/2) / float64(n)
	if n >= 12 && len(by)*2 > n {
		rule = 0
	}
	if rule >= 0.85 || p.blendsAlike(r, from, to) {
		return guessed("recoloured", Detail{"from": hex(from), "to": hex(to)})
	}
	return nil
}

// blendsAlike reports whether each changed pixel lies as far on the way from the ground
// to the colour `from` in the golden as it does on the way to `to` in the capture.
func (p *pair) blendsAlike(r *region, from, to uint32) bool {
	if !r.ground.sure {
		return false
	}
	off := 0.0
	for _, i := range r.px {
		g := r.ground.at(int(i)%p.w, int(i)/p.w)
		a, okA := blend(p.g.px[i], g, from)
		b, okB := blend(p.c.px[i], g, to)
		if !okA || !okB {
			return false
		}
		off += math.Min(1, math.Abs(a-b))
	}
	return off <= 0.1*float64(len(r.px))
}

// blend is the share of colour `to` in c, a mix of ground and `to`.
func blend(c, ground, to uint32) (float64, bool) {
	var dot, norm float64
	for s := 0; s <= 16; s += 8 {
		d := float64(to>>s&0xff) - float64(ground>>s&0xff)
		dot += d * (float64(c>>s&0xff) - float64(ground>>s&0xff))
		norm += d * d
	}
	if norm < 100 {
		return 0, false
	}
	return dot / norm, true
}

// otherText: both pictures have thin strokes of one colour and about one height here, but
// not the same ones.
func (p *pair) otherText(r *region) *guess {
	if !r.ground.sure {
		return nil
	}
	g, gn := p.ink(r, p.g)
	c, cn := p.ink(r, p.c)
	if gn == 0 || cn == 0 || !near(g, c, 24) {
		return nil
	}
	if r.g.leaked || r.c.leaked || len(r.g.at) == 0 || len(r.c.at) == 0 {
		return &guess{"text", 0.5, Detail{}, []Cause{cause("other", 0.4, Detail{})}}
	}
	gh, ch := r.g.box.Dy(), r.c.box.Dy()
	if abs(gh-ch) > max(4, max(gh, ch)*2/5) {
		return nil
	}
	h := float64(max(gh, ch))
	if p.strokeWidth(r.g) > 0.4*h || p.strokeWidth(r.c) > 0.4*h {
		return nil
	}
	return guessed("text", nil)
}

// ink is the colour of the content among the changed pixels: common, and far from the
// ground. n is 0 if there is no content.
func (p *pair) ink(r *region, m *picture) (colour uint32, n int) {
	count := map[uint32]int{}
	for _, i := range r.px {
		if c := m.px[i]; !r.ground.is(c, int(i)%p.w, int(i)/p.w) {
			count[c]++
			n++
		}
	}
	weight := -1
	for c, k := range count {
		d := colourStep(c, r.ground.at(r.box.Min.X, r.box.Min.Y))
		if w := k * d * d; w > weight || w == weight && c < colour {
			colour, weight = c, w
		}
	}
	return colour, n
}

// strokeWidth is twice the area over the perimeter, in px: the width of a long stroke.
func (p *pair) strokeWidth(c content) float64 {
	in := make(map[int32]bool, len(c.at))
	for _, i := range c.at {
		in[i] = true
	}
	rim := 0
	for _, i := range c.at {
		for _, d := range []int32{-1, 1, int32(-p.w), int32(p.w)} {
			if !in[i+d] {
				rim++
			}
		}
	}
	if rim == 0 {
		return 0
	}
	return 2 * float64(len(c.at)) / float64(rim)
}

// foldText takes letters that are only gone or new at the end of a line whose other
// letters changed as part of the changed text.
func foldText(list []*region, guesses []*guess) {
	for changed := true; changed; {
		changed = false
		for i, r := range list {
			if guesses[i].cause != "text" {
				continue
			}
			for j, o := range list {
				switch guesses[j].cause {
				case "missing", "added", "other", "moved", "recoloured", "resized":
				default:
					continue
				}
				gap := max(r.box.Min.X-o.box.Max.X, o.box.Min.X-r.box.Max.X)
				if sharedRows(r.box, o.box) >= 0.5 && gap <= 2*max(r.box.Dy(), 8) && o.box.Dy() <= 2*r.box.Dy()+4 &&
					r.ground.flat == o.ground.flat && r.ground.colour == o.ground.colour {
					guesses[j] = guessed("text", nil)
					changed = true
				}
			}
		}
	}
}
