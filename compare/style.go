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
	px := r.sample()
	for _, i := range px {
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
	n := len(px)
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
	own := float64(by[from].best) / float64(n)
	if rule < 0.85 && !(rule >= 0.7 && own >= 0.4) && !p.blendsAlike(r, from, to) {
		var gn, cn int
		from, gn = p.ink(r, p.g, nil)
		to, cn = p.ink(r, p.c, nil)
		if gn == 0 || cn == 0 || !p.blendsAlike(r, from, to) {
			return nil
		}
	}
	// Into or out of the colour of what stayed all around means that it went or came.
	if inner, ok := p.within(r); ok && inner == to {
		return guessed("missing", nil)
	} else if ok && inner == from {
		return guessed("added", nil)
	}
	return guessed("recoloured", Detail{"from": hex(from), "to": hex(to)})
}

// within is the commonest colour of the unchanged pixels in the region's box, if they are
// a third of it.
func (p *pair) within(r *region) (colour uint32, ok bool) {
	count := map[uint32]int{}
	n := 0
	all, step := 0, strideFor(r.box)
	for y := r.box.Min.Y; y < r.box.Max.Y; y += step {
		for x := r.box.Min.X; x < r.box.Max.X; x += step {
			all++
			if i := y*p.w + x; !p.diff[i] {
				c := p.g.px[i]
				n++
				if count[c]++; count[c] > count[colour] {
					colour = c
				}
			}
		}
	}
	return colour, n*3 >= all
}

// blendsAlike reports whether each changed pixel lies as far on the way from the ground
// to the colour `from` in the golden as it does on the way to `to` in the capture.
func (p *pair) blendsAlike(r *region, from, to uint32) bool {
	if !r.ground.sure {
		return false
	}
	off := 0.0
	px := r.sample()
	for _, i := range px {
		g := r.ground.at(int(i)%p.w, int(i)/p.w)
		a, okA := blend(p.g.px[i], g, from)
		b, okB := blend(p.c.px[i], g, to)
		if !okA || !okB {
			return false
		}
		off += math.Min(1, math.Abs(a-b))
	}
	return off <= 0.12*float64(len(px))
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
	g, gn := p.ink(r, p.g, nil)
	c, cn := p.ink(r, p.c, nil)
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

// ink is the full colour of the content: the one farthest from the ground, of those that
// 4 % of the content reach. It is taken of all of the content where that is given, else of
// the changed pixels. n is 0 if there is no content.
func (p *pair) ink(r *region, m *picture, all *content) (colour uint32, n int) {
	at := r.px
	if all != nil && len(all.at) > 0 {
		at = all.at
	}
	return p.fullColour(r, m, thinned(at))
}

func (p *pair) fullColour(r *region, m *picture, at []int32) (colour uint32, n int) {
	var steps [256]int // how many pixels are so far from the ground
	for _, i := range at {
		x, y := int(i)%p.w, int(i)/p.w
		if c := m.px[i]; !r.ground.is(c, x, y) {
			steps[colourStep(c, r.ground.at(x, y))]++
			n++
		}
	}
	if n == 0 {
		return 0, 0
	}
	full, seen := 255, 0
	for ; seen+steps[full] <= n/25 && full > 0; full-- {
		seen += steps[full]
	}
	first := true
	for _, i := range at {
		x, y := int(i)%p.w, int(i)/p.w
		c := m.px[i]
		if !r.ground.is(c, x, y) && colourStep(c, r.ground.at(x, y)) == full && (first || c < colour) {
			colour, first = c, false
		}
	}
	return colour, n
}

// strokeWidth is twice the area over the perimeter, in px: the width of a long stroke.
func (p *pair) strokeWidth(c content) float64 {
	if p.inside == nil {
		p.inside = make([]bool, p.w*p.h)
	}
	for _, i := range c.at {
		p.inside[i] = true
	}
	rim := 0
	for _, i := range c.at {
		x, y := int(i)%p.w, int(i)/p.w
		if x == 0 || !p.inside[i-1] {
			rim++
		}
		if x == p.w-1 || !p.inside[i+1] {
			rim++
		}
		if y == 0 || !p.inside[int(i)-p.w] {
			rim++
		}
		if y == p.h-1 || !p.inside[int(i)+p.w] {
			rim++
		}
	}
	for _, i := range c.at {
		p.inside[i] = false
	}
	if rim == 0 {
		return 0
	}
	return 2 * float64(len(c.at)) / float64(rim)
}

// foldText takes letters that are only gone or new at the end of a line whose other
// letters changed as part of the changed text. If the line as a whole is the same at
// another size, it was resized.
func (p *pair) foldText(list []*region, guesses []*guess) {
	seen := make([]bool, len(list))
	for i := range list {
		if guesses[i].cause != "text" || seen[i] {
			continue
		}
		line := []int{i}
		seen[i] = true
		for k := 0; k < len(line); k++ {
			for j := range list {
				if !seen[j] && ofText[guesses[j].cause] && sameLine(list[line[k]], list[j]) {
					seen[j] = true
					line = append(line, j)
				}
			}
		}
		g := guessed("text", nil)
		if len(line) > 1 {
			if whole := p.resizedLine(list, line); whole != nil {
				g = whole
			}
		}
		for _, j := range line {
			if guesses[j].cause != "text" || len(line) > 1 {
				guesses[j] = g
			}
		}
	}
}

// ofText are the causes that a letter of a changed line may seem to have by itself.
var ofText = map[string]bool{"text": true, "missing": true, "added": true, "other": true, "moved": true, "recoloured": true, "resized": true}

// sameLine reports whether two regions look like letters of one line of text.
func sameLine(a, b *region) bool {
	gap := max(a.box.Min.X-b.box.Max.X, b.box.Min.X-a.box.Max.X)
	return sharedRows(a.box, b.box) >= 0.5 && gap <= 2*max(a.box.Dy(), 8) && b.box.Dy() <= 2*a.box.Dy()+4 &&
		a.ground.flat == b.ground.flat && a.ground.colour == b.ground.colour
}

// resizedLine looks at several regions as one.
func (p *pair) resizedLine(list []*region, line []int) *guess {
	all := &region{ground: list[line[0]].ground}
	for _, j := range line {
		r := list[j]
		all.box = all.box.Union(r.box)
		all.px = append(all.px, r.px...)
		all.g.at = append(all.g.at, r.g.at...)
		all.c.at = append(all.c.at, r.c.at...)
	}
	all.g.box, all.c.box = boxOf(all.g.at, p.w), boxOf(all.c.at, p.w)
	return p.resized(all)
}
