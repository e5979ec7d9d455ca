package compare

import "image"

// alike compares two colours with the slack that the ground asks for: blended edges carry
// some of it along.
func (r *region) alike(a, b uint32) bool {
	if a == b {
		return true
	}
	if r.ground.flat {
		return false
	}
	return near(a, b, 2*gradientSlack)
}

// near reports whether no channel differs by more than slack.
func near(a, b uint32, slack int) bool {
	for s := 0; s <= 16; s += 8 {
		if d := int(a>>s&0xff) - int(b>>s&0xff); d > slack || d < -slack {
			return false
		}
	}
	return true
}

// movedOrStretched: what moved is a thing that reaches beyond the change or lies in the
// midst of it; the end of a longer shape may look like one by itself.
func (p *pair) movedOrStretched(r *region) *guess {
	moved := p.movedWhole(r)
	if moved != nil && !r.g.box.Union(r.c.box).In(r.box.Inset(-2)) {
		return moved
	}
	if g := p.stretched(r); g != nil {
		return g
	}
	return moved
}

// movedWhole: the golden's content stands in the capture with another origin. Content
// reaches beyond the changed pixels, so a bar of one colour that moved along itself is
// seen as one thing though only its ends changed.
func (p *pair) movedWhole(r *region) *guess {
	if r.g.leaked || r.c.leaked || len(r.g.at) < 4 || r.g.box.Size() != r.c.box.Size() || r.g.box == r.c.box {
		return nil
	}
	d := r.c.box.Min.Sub(r.g.box.Min)
	bad := 0
	for _, i := range r.g.at {
		if !r.alike(p.g.px[i], p.c.px[int(i)+d.Y*p.w+d.X]) {
			bad++
		}
	}
	for _, i := range r.c.at {
		if !r.alike(p.c.px[i], p.g.px[int(i)-d.Y*p.w-d.X]) {
			bad++
		}
	}
	if bad*20 > len(r.g.at)+len(r.c.at) {
		return nil
	}
	return guessed("moved", Detail{"dx": d.X, "dy": d.Y})
}

// searchReach bounds the search for a displacement within one region, in px.
const searchReach = 48

// matcher says whether golden pixel i and capture pixel k show the same thing.
type matcher func(i, k int) bool

// movedBySearch tries displacements on the places where the golden's content has an edge:
// first by colour, then by where the full colour of the content stands, for blended edges
// change with the ground.
func (p *pair) movedBySearch(r *region) *guess {
	byColour := func(i, k int) bool { return r.alike(p.g.px[i], p.c.px[k]) }
	if g := p.search(r, byColour, func(m *picture, i int32) bool { return !r.ground.is(m.px[i], int(i)%p.w, int(i)/p.w) }); g != nil {
		return g
	}
	g, gn := p.ink(r, p.g, nil)
	c, cn := p.ink(r, p.c, nil)
	if gn == 0 || cn == 0 || !near(g, c, 8) {
		return nil
	}
	byInk := func(i, k int) bool { return near(p.g.px[i], g, 24) == near(p.c.px[k], g, 24) }
	return p.search(r, byInk, func(m *picture, i int32) bool { return near(m.px[i], g, 24) })
}

// search finds the displacement that carries the region's content, as told by is.
func (p *pair) search(r *region, same matcher, is func(m *picture, i int32) bool) *guess {
	probes := p.edgeProbes(r, 80, is)
	if len(probes) < 6 {
		return nil
	}
	rx, ry := min(searchReach, r.box.Dx()-1), min(searchReach, r.box.Dy()-1)
	best, at := 0.0, image.Point{}
	for dy := -ry; dy <= ry; dy++ {
		for dx := -rx; dx <= rx; dx++ {
			if dx == 0 && dy == 0 {
				continue
			}
			hit, n := 0, 0
			for _, q := range probes {
				x, y := q.x+dx, q.y+dy
				if x < 0 || y < 0 || x+1 >= p.w || y >= p.h {
					continue
				}
				n++
				i, k := q.y*p.w+q.x, y*p.w+x
				if same(i, k) && same(i+1, k+1) {
					hit++
				} else if n-hit > 4 && hit < n/2 {
					break
				}
			}
			if n*2 < len(probes) {
				continue
			}
			// Of equal displacements the shortest is likeliest.
			if s := float64(hit)/float64(n) - 0.0005*float64(abs(dx)+abs(dy)); s > best {
				best, at = s, image.Pt(dx, dy)
			}
		}
	}
	if best < 0.7 || !p.carries(r, at, same, is) {
		return nil
	}
	return guessed("moved", Detail{"dx": at.X, "dy": at.Y})
}

// carries checks a displacement on every changed pixel, both ways: what was there is
// found further on, and what is there came from further back.
func (p *pair) carries(r *region, d image.Point, same matcher, is func(m *picture, i int32) bool) bool {
	panel := image.Rect(0, 0, p.w, p.h)
	var good, bad int
	count := func(ok bool) {
		if ok {
			good++
		} else {
			bad++
		}
	}
	for _, i := range r.sample() {
		at := image.Pt(int(i)%p.w, int(i)/p.w)
		if to := at.Add(d); is(p.g, i) && to.In(panel) {
			count(same(int(i), to.Y*p.w+to.X))
		}
		if from := at.Sub(d); is(p.c, i) && from.In(panel) {
			count(same(from.Y*p.w+from.X, int(i)))
		}
	}
	if good < 24 {
		return bad == 0 && good >= 8
	}
	return bad*12 <= good
}

// edgeProbes picks places among the changed pixels where the golden's content differs
// from its right neighbour.
func (p *pair) edgeProbes(r *region, n int, is func(m *picture, i int32) bool) []probe {
	var all []probe
	for _, i := range r.px {
		x, y := int(i)%p.w, int(i)/p.w
		if x+1 < p.w && p.g.px[i] != p.g.px[i+1] && (is(p.g, i) || is(p.g, i+1)) {
			all = append(all, probe{x, y})
		}
	}
	if len(all) <= n {
		return all
	}
	out := make([]probe, n)
	for i := range out {
		out[i] = all[(i*7919)%len(all)]
	}
	return out
}

// pairMoves finds content that left one region and arrived in another.
func (p *pair) pairMoves(list []*region, guesses []*guess) {
	open := func(i int) bool {
		switch guesses[i].cause {
		case "missing", "added", "other", "text", "recoloured":
			return true
		}
		return false
	}
	// Many regions that all could pair are rather a picture in disorder than moves.
	if len(list) > 200 {
		return
	}
	for i, a := range list {
		// A line of one pixel is like any other.
		if min(a.box.Dx(), a.box.Dy()) < 3 || !open(i) || guesses[i].cause == "added" || !p.leftNothing(a) {
			continue
		}
		best := -1
		for j, b := range list {
			if i == j || !open(j) || guesses[j].cause == "missing" || !p.cameAlone(b) || a.box.Size() != b.box.Size() || !p.carriedTo(a, b) {
				continue
			}
			if best < 0 || distance(a.box, b.box) < distance(a.box, list[best].box) {
				best = j
			}
		}
		if best < 0 {
			continue
		}
		d := list[best].box.Min.Sub(a.box.Min)
		guesses[i] = guessed("moved", Detail{"dx": d.X, "dy": d.Y})
		guesses[best] = guessed("moved", Detail{"dx": d.X, "dy": d.Y})
	}
}

// leftNothing and cameAlone ask that ground be where content was, and was where content
// is; two things that changed places are letters of another word rather.
func (p *pair) leftNothing(r *region) bool { return p.overGround(r, p.g, p.c) }
func (p *pair) cameAlone(r *region) bool   { return p.overGround(r, p.c, p.g) }

func (p *pair) overGround(r *region, content, under *picture) bool {
	n, ground := 0, 0
	for _, i := range r.sample() {
		x, y := int(i)%p.w, int(i)/p.w
		if !r.ground.is(content.px[i], x, y) {
			n++
			if r.ground.is(under.px[i], x, y) {
				ground++
			}
		}
	}
	return ground*10 >= n*7
}

// carriedTo reports whether the golden's content in a is the capture's in b. Both boxes
// have one size. Blended edges may differ where the grounds do.
func (p *pair) carriedTo(a, b *region) bool {
	d := b.box.Min.Sub(a.box.Min)
	good, bad := 0, 0
	for _, i := range a.px {
		if a.ground.is(p.g.px[i], int(i)%p.w, int(i)/p.w) {
			continue
		}
		if p.g.px[i] == p.c.px[int(i)+d.Y*p.w+d.X] {
			good++
		} else {
			bad++
		}
	}
	if a.ground.colour != b.ground.colour || !a.ground.flat {
		return good >= 8 && bad <= good
	}
	return good >= 4 && bad*12 <= good
}

func distance(a, b image.Rectangle) int {
	d := a.Min.Sub(b.Min)
	return abs(d.X) + abs(d.Y)
}
