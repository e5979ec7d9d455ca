package compare

import (
	"fmt"
	"image"
	"sort"
)

// verdictOf a region, before it is put in words.
type guess struct {
	cause      string
	confidence float64
	detail     Detail
	instead    []Cause
}

func guessed(name string, d Detail) *guess {
	if d == nil {
		d = Detail{}
	}
	return &guess{cause: name, confidence: confidenceOf[name], detail: d}
}

// parts explains each group of changed pixels, first by itself, then in view of the others.
func (p *pair) parts(comps []component, label []int32) []Region {
	list := regionsOf(comps, label)
	e := &explorer{p: p, mark: make([]int32, p.w*p.h)}
	guesses := make([]*guess, len(list))
	for i, r := range list {
		guesses[i] = e.explain(r)
	}
	p.pairMoves(list, guesses)
	p.foldText(list, guesses)
	joinEnds(list, guesses)
	foldResized(list, guesses)
	regions := make([]Region, len(list))
	for i, r := range list {
		g := guesses[i]
		regions[i] = regionOf(r.box, Cause{Cause: g.cause, Confidence: g.confidence, Detail: g.detail, Instead: g.instead,
			Says: partSays(g.cause, g.detail, r.box, r.pixels)})
	}
	return regions
}

// regionsOf gives each component its pixels.
func regionsOf(comps []component, label []int32) []*region {
	list := make([]*region, len(comps))
	for i, k := range comps {
		list[i] = &region{component: k, px: make([]int32, 0, k.pixels)}
	}
	for i, l := range label {
		if l >= 0 {
			list[l].px = append(list[l].px, int32(i))
		}
	}
	return list
}

// explain names the cause of one region's change.
func (e *explorer) explain(r *region) *guess {
	p := e.p
	if p.lowOnly(r) {
		return &guess{"other", 1, Detail{"below": "8 bits"}, nil}
	}
	e.survey(r)
	for _, try := range []func(*region) *guess{
		p.movedOrStretched, p.edges, p.outgrown, p.goneOrNew, p.movedBySearch, p.recoloured, p.resized, p.otherText, p.covered,
	} {
		if g := try(r); g != nil {
			return p.orStale(r, g)
		}
	}
	return p.orStale(r, guessed("other", nil))
}

// survey finds the ground around a region and the content on it in both pictures.
func (e *explorer) survey(r *region) {
	p := e.p
	r.ground = p.groundAround(r.box)
	r.g, r.c = e.explore(p.g, r), e.explore(p.c, r)
	if (r.g.leaked || r.c.leaked) && r.ground.flat && len(r.ground.common) > 0 {
		r.ground.also = r.ground.common
		r.g, r.c = e.explore(p.g, r), e.explore(p.c, r)
	}
}

func (p *pair) lowOnly(r *region) bool {
	for _, i := range r.px {
		if p.g.px[i] != p.c.px[i] {
			return false
		}
	}
	return true
}

// orStale names `stale` where the region shows what the previous look had there though it
// should have changed. What stands still may also be meant to; without the previous golden
// only a strip, as short areas leave it, is taken for stale.
func (p *pair) orStale(r *region, g *guess) *guess {
	if p.prev == nil {
		return g
	}
	due := 0
	for _, i := range r.px {
		if p.prev.px[i] != p.c.px[i] {
			return g
		}
		if p.was != nil && p.was.px[i] != p.g.px[i] {
			due++
		}
	}
	thick, long := min(r.box.Dx(), r.box.Dy()), max(r.box.Dx(), r.box.Dy())
	strip := thick <= 3 && long >= 8*thick
	if style := g.cause == "recoloured" || g.cause == "edges"; p.was == nil && strip && style {
		old := cause("stale", 0.4, Detail{})
		old.Says = partSays("stale", nil, r.box, r.pixels)
		g.instead = append(g.instead, old)
		return g
	}
	if p.was != nil && due*10 < len(r.px)*9 || p.was == nil && !strip {
		return g
	}
	// A screen does not change by its anti-aliasing alone: what looks so is drawn in a new style, and the
	// golden before has that style already, as after approving a part of an upgrade.
	if g.cause == "edges" && !strip {
		return g
	}
	c := Cause{Cause: g.cause, Confidence: 0.3, Detail: g.detail, Says: partSays(g.cause, g.detail, r.box, r.pixels)}
	return &guess{"stale", 0.7, Detail{}, []Cause{c}}
}

// goneOrNew: the changed pixels were content and are ground, or the reverse.
func (p *pair) goneOrNew(r *region) *guess {
	g, c := p.behindShare(r, p.g), p.behindShare(r, p.c)
	switch {
	case c >= 0.9 && g <= 0.35:
		return guessed("missing", nil)
	case g >= 0.9 && c <= 0.35:
		return guessed("added", nil)
	}
	return nil
}

// groundShare is the share of the region's changed pixels that are ground in m.
func (p *pair) groundShare(r *region, m *picture) float64 {
	n := 0
	at := r.sample()
	for _, i := range at {
		if r.ground.is(m.px[i], int(i)%p.w, int(i)/p.w) {
			n++
		}
	}
	return float64(n) / float64(len(at))
}

// behindShare is groundShare with a wider notion of ground: what both ends of a pixel's
// row or column, just outside the box, agree on. So content across the border of two
// grounds is seen to be gone.
func (p *pair) behindShare(r *region, m *picture) float64 {
	n := 0
	at := r.sample()
	for _, i := range at {
		x, y := int(i)%p.w, int(i)/p.w
		if r.ground.is(m.px[i], x, y) || p.between(m, i, r.box.Min.X-1, y, r.box.Max.X, y) || p.between(m, i, x, r.box.Min.Y-1, x, r.box.Max.Y) {
			n++
		}
	}
	return float64(n) / float64(len(at))
}

func (p *pair) between(m *picture, i int32, x0, y0, x1, y1 int) bool {
	if x0 < 0 || y0 < 0 || x1 >= p.w || y1 >= p.h {
		return false
	}
	a, b := m.px[y0*p.w+x0], m.px[y1*p.w+x1]
	return near(a, b, gradientSlack) && near(m.px[i], a, gradientSlack)
}

// covered: a new surface of one colour lies over what was there, or was taken away.
func (p *pair) covered(r *region) *guess {
	if r.ground.sure && r.box.Dx() >= 12 && r.box.Dy() >= 8 {
		c, g := p.surface(r, p.c), p.surface(r, p.g)
		if c && !g {
			return &guess{"added", 0.5, Detail{}, []Cause{cause("other", 0.3, Detail{})}}
		}
		if g && !c {
			return &guess{"missing", 0.5, Detail{}, []Cause{cause("other", 0.3, Detail{})}}
		}
	}
	return nil
}

// surface reports whether half the box has one colour that is not the ground's.
func (p *pair) surface(r *region, m *picture) bool {
	count := map[uint32]int{}
	b, step := r.box, strideFor(r.box)
	var most uint32
	n := 0
	for y := b.Min.Y; y < b.Max.Y; y += step {
		for x := b.Min.X; x < b.Max.X; x += step {
			c := m.px[y*p.w+x]
			n++
			if count[c]++; count[c] > count[most] {
				most = c
			}
		}
	}
	return count[most]*2 > n && !r.ground.is(most, b.Min.X, b.Min.Y)
}

// summarise folds the regions' causes into the list of the whole picture: equal causes
// with equal details are one entry. Kinds of cause stand by the number of pixels they
// explain, and so do the entries of one kind.
func summarise(regions []Region, comps []component) []Cause {
	type entry struct {
		cause  Cause
		weight int
	}
	var list []*entry
	byKey := map[string]*entry{}
	kind := map[string]int{}
	for i, r := range regions {
		key := fmt.Sprint(r.Cause, r.Detail)
		e := byKey[key]
		if e == nil {
			e = &entry{cause: Cause{Cause: r.Cause, Confidence: r.Confidence, Detail: r.Detail,
				Instead: r.Instead, Says: r.Says}}
			byKey[key] = e
			list = append(list, e)
		}
		e.weight += comps[i].pixels
		e.cause.Confidence = max(e.cause.Confidence, r.Confidence)
		kind[r.Cause] += comps[i].pixels
	}
	sort.SliceStable(list, func(i, j int) bool {
		a, b := list[i], list[j]
		if ka, kb := kind[a.cause.Cause], kind[b.cause.Cause]; ka != kb {
			return ka > kb
		}
		return a.weight > b.weight
	})
	causes := make([]Cause, len(list))
	for i, e := range list {
		causes[i] = e.cause
	}
	return causes
}

// overlaps tells how far two boxes share rows, as a share of the lower one.
func sharedRows(a, b image.Rectangle) float64 {
	n := min(a.Max.Y, b.Max.Y) - max(a.Min.Y, b.Min.Y)
	return float64(n) / float64(min(a.Dy(), b.Dy()))
}
