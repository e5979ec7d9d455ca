package compare

import (
	"image"
	"sort"
)

// A colourFault changes every pixel's code by the same rule.
type colourFault struct {
	names []string // in order of application
	apply func(uint16) uint16
}

func swapBytes16(v uint16) uint16 { return v>>8 | v<<8 }
func swapRedBlue(v uint16) uint16 { return v>>11 | v&0x07e0 | v<<11 }
func complement(v uint16) uint16  { return ^v }

// colourFaults are all compositions of byte order, channel order and complement with
// each used at most once. Complement commutes with the others, which do not with each other.
var colourFaults = func() []colourFault {
	base := []colourFault{
		{nil, func(v uint16) uint16 { return v }},
		{[]string{"red-blue-swapped"}, swapRedBlue},
		{[]string{"byte-swapped"}, swapBytes16},
		{[]string{"red-blue-swapped", "byte-swapped"}, func(v uint16) uint16 { return swapBytes16(swapRedBlue(v)) }},
		{[]string{"byte-swapped", "red-blue-swapped"}, func(v uint16) uint16 { return swapRedBlue(swapBytes16(v)) }},
	}
	all := base
	for _, b := range base {
		all = append(all, colourFault{append(b.names[:len(b.names):len(b.names)], "inverted"),
			func(v uint16) uint16 { return complement(b.apply(v)) }})
	}
	return all
}()

// A turn is one of the eight ways to lay a rectangle onto itself or onto the rectangle
// with exchanged sides: transposed first, then mirrored.
type turn struct {
	causes                  []Cause
	transpose, flipX, flipY bool
}

var turns = []turn{
	{},
	{causes: []Cause{whole("rotated", Detail{"angle": 180})}, flipX: true, flipY: true},
	{causes: []Cause{whole("mirrored", Detail{"axis": "x"})}, flipX: true},
	{causes: []Cause{whole("mirrored", Detail{"axis": "y"})}, flipY: true},
	{causes: []Cause{whole("rotated", Detail{"angle": 90})}, transpose: true, flipX: true},
	{causes: []Cause{whole("rotated", Detail{"angle": 270})}, transpose: true, flipY: true},
	{causes: []Cause{whole("rotated", Detail{"angle": 90}), whole("mirrored", Detail{"axis": "x"})}, transpose: true},
	{causes: []Cause{whole("rotated", Detail{"angle": 90}), whole("mirrored", Detail{"axis": "y"})}, transpose: true, flipX: true, flipY: true},
}

// steps gives, for a w x h result, the index of the source pixel of (0, 0) and how it
// changes by one step in x and in y.
func (t turn) steps(w, h int) (start, dx, dy int) {
	sx, sy := 1, w
	if t.transpose {
		sx, sy = h, 1 // the source is h wide
	}
	dx, dy = sx, sy
	if t.flipX {
		start += (w - 1) * sx
		dx = -sx
	}
	if t.flipY {
		start += (h - 1) * sy
		dy = -sy
	}
	return start, dx, dy
}

// laid is the golden after a turn and a change of colours.
func laid(g []uint16, w, h int, t turn, f func(uint16) uint16) []uint16 {
	start, dx, dy := t.steps(w, h)
	out := make([]uint16, w*h)
	for y := range h {
		i := start + y*dy
		for x := range w {
			out[y*w+x] = f(g[i])
			i += dx
		}
	}
	return out
}

// hypothesis is a turn, a change of colours and a shift.
type hypothesis struct {
	turn   turn
	colour colourFault
	dx, dy int
	left   int
}

func (h hypothesis) causes() []Cause {
	out := append([]Cause(nil), h.turn.causes...)
	for _, n := range h.colour.names {
		out = append(out, whole(n, Detail{}))
	}
	if h.dx != 0 || h.dy != 0 {
		out = append(out, whole("shifted", Detail{"dx": h.dx, "dy": h.dy}))
	}
	return out
}

// composed makes one cause of several: the first, with the others.
func composed(list []Cause) Cause {
	c := list[0]
	for _, w := range list[1:] {
		c.With = append(c.With, w)
		c.Confidence = min(c.Confidence, w.Confidence)
		c.Says += " Then: " + w.Says
	}
	return c
}

// reordered searches turn x channel order x byte order x complement, and each of these
// with a shift where they do not do alone.
func (p *pair) reordered() (fault, bool) {
	if p.changed16 == 0 {
		return fault{}, false
	}
	colours := p.likelyColours(p.g16)
	var found []hypothesis
	for _, c := range colours {
		for _, t := range p.turnsFor() {
			if t.causes == nil && c.names == nil {
				continue
			}
			if left, ok := p.holds(t, c); ok {
				found = append(found, hypothesis{turn: t, colour: c, left: left})
			}
		}
	}
	exact := false
	for _, h := range found {
		exact = exact || h.left == 0
	}
	if !exact && (p.box.Dx()*p.box.Dy()*8 >= p.w*p.h || p.w*p.h <= smallPanel) {
		found = append(found, p.shifts(colours)...)
	}
	if len(found) == 0 {
		return fault{}, false
	}
	return p.choose(found), true
}

// choose takes the hypothesis that leaves least over and needs the fewest faults; those
// that do as well stand beside it as rivals.
func (p *pair) choose(found []hypothesis) fault {
	sort.SliceStable(found, func(i, j int) bool {
		a, b := found[i], found[j]
		// A further fault must explain at least 1/200 of the change.
		ca, cb := a.left*200+len(a.causes())*p.changed, b.left*200+len(b.causes())*p.changed
		return ca < cb
	})
	h := found[0]
	c := composed(h.causes())
	n := len(h.causes())
	for _, r := range found[1:] {
		if len(r.causes()) == n && r.left <= h.left && len(c.Instead) < 3 {
			rival := composed(r.causes())
			rival.Confidence = 0.4
			c.Instead = append(c.Instead, rival)
		}
	}
	if k := len(c.Instead); k > 0 {
		c.Confidence = 1 / float64(k+1)
		for i := range c.Instead {
			c.Instead[i].Confidence = c.Confidence
		}
	}
	f := fault{cause: c, left: h.left, expect: laid(p.g16, p.w, p.h, h.turn, h.colour.apply)}
	if h.dx != 0 || h.dy != 0 {
		f.expect, f.known = displaced(f.expect, p.w, p.h, h.dx, h.dy)
	}
	return f
}

// turnsFor gives the turns that keep the panel's size.
func (p *pair) turnsFor() []turn {
	if p.turned {
		return turns[4:]
	}
	if p.w == p.h {
		return turns
	}
	return turns[:4]
}

// likelyColours keeps the colour faults that turn the golden's stock of colours into
// nearly the capture's, wherever on the panel they stand. Of faults that do the same to
// this golden, such as channel order on a grey one, only the simplest is kept.
func (p *pair) likelyColours(g []uint16) []colourFault {
	have, want := histogram(g, nil), histogram(p.c16, nil)
	type scored struct {
		f       colourFault
		overlap int
	}
	var list []scored
	best := 0
	seen := map[uint64]bool{}
	for _, f := range colourFaults {
		overlap := 0
		var print uint64 // of what the fault does to the golden's colours
		for _, e := range have.codes {
			to := f.apply(e)
			print = print*1099511628211 + uint64(to)
			overlap += min(int(have.count[e]), int(want.count[to]))
		}
		if seen[print] {
			continue
		}
		seen[print] = true
		list = append(list, scored{f, overlap})
		best = max(best, overlap)
	}
	var out []colourFault
	n := len(g)
	for _, s := range list {
		if s.overlap*2 >= n && s.overlap*20 >= best*19 || s.overlap == best && best*4 >= n {
			out = append(out, s.f)
		}
	}
	return out
}

type codeCounts struct {
	count []int32
	codes []uint16 // in order of first appearance
}

func histogram(v []uint16, ignored []bool) codeCounts {
	h := codeCounts{count: make([]int32, 1<<16)}
	for i, c := range v {
		if ignored != nil && ignored[i] {
			continue
		}
		if h.count[c] == 0 {
			h.codes = append(h.codes, c)
		}
		h.count[c]++
	}
	return h
}

// Two bounds decide whether a whole-panel fault holds. It may leave a part of the change
// unexplained, for there may be another fault besides. But pixels that it would have
// changed and that stand as in the golden speak against it.
const (
	leftShare    = 4  // at most 1/4 of the changed pixels may be left over
	refusedShare = 50 // at most 1/50 of their number may refuse
)

// holds tests a turn and a change of colours against every pixel.
func (p *pair) holds(t turn, f colourFault) (left int, ok bool) {
	start, dx, dy := t.steps(p.w, p.h)
	maxLeft, maxRefused := p.changed16/leftShare, p.changed16/refusedShare
	refused := 0
	for y := range p.h {
		i := start + y*dy
		row := p.c16[y*p.w : (y+1)*p.w]
		for x, c := range row {
			if f.apply(p.g16[i]) != c && p.counts(y*p.w+x) {
				left++
				if p.g16[y*p.w+x] == c {
					refused++
				}
			}
			i += dx
		}
		if left > maxLeft || refused > maxRefused {
			return 0, false
		}
	}
	return left, true
}

// displaced moves a picture; known is false where nothing came from.
func displaced(v []uint16, w, h, dx, dy int) (out []uint16, known []bool) {
	out, known = make([]uint16, len(v)), make([]bool, len(v))
	r := image.Rect(0, 0, w, h)
	for y := range h {
		for x := range w {
			if s := image.Pt(x-dx, y-dy); s.In(r) {
				out[y*w+x] = v[s.Y*w+s.X]
				known[y*w+x] = true
			}
		}
	}
	return out, known
}
