package compare

import (
	"image"
	"slices"
)

// stale: the capture shows what the previous look showed. With nearly set, a
// few pixels may differ besides, such as a clock.
func (p *pair) stale(nearly bool) (fault, bool) {
	if p.prev == nil {
		return fault{}, false
	}
	apart, left := 0, 0 // golden against previous; capture against previous
	for i, v := range p.prev.px {
		if !p.counts(i) {
			continue
		}
		if v != p.g.px[i] {
			apart++
		}
		if v != p.c.px[i] {
			left++
		}
	}
	if left*50 > apart || !nearly && left > 0 || p.meantToStay() {
		return fault{}, false
	}
	return fault{cause: whole("stale", Detail{}), expect: codesOf(p.prev), left: left}, true
}

// meantToStay reports whether the screen was not to change since the previous look, or
// rather looks like one that was not: where every screen of a firmware is drawn in a new
// style, a look without a change since the previous one shows that one's picture rightly.
func (p *pair) meantToStay() bool {
	if p.was != nil {
		moved := 0 // px in which this golden is not the previous one
		for i, v := range p.was.px {
			if v != p.g.px[i] && p.counts(i) {
				moved++
			}
		}
		return moved == 0
	}
	comps, label := components(p.diff, p.w, p.h)
	q := *p
	q.prev = nil
	style := 0
	rules := map[[2]string]bool{}
	for i, r := range q.parts(comps, label) {
		switch r.Cause {
		case "edges":
			style += comps[i].pixels
		case "moved":
			dx, _ := r.Detail["dx"].(int)
			dy, _ := r.Detail["dy"].(int)
			if abs(dx)+abs(dy) <= 2 {
				style += comps[i].pixels
			}
		case "recoloured":
			from, _ := r.Detail["from"].(string)
			to, _ := r.Detail["to"].(string)
			rules[[2]string{from, to}] = true
			if rules[[2]string{to, from}] {
				return false // colours that changed places: a focus that went on, say
			}
			// Where most of the panel has other colours it is rather another screen.
			if b := comps[i].box; b.Dx()*b.Dy()*4 < p.w*p.h {
				style += comps[i].pixels
			}
		}
	}
	return style*10 >= p.changed*7
}

// tornRows is the least number of rows on either side of a seam; fewer are rather the edge
// of an area that was not flushed whole.
const tornRows = 2

// torn: the rows above a seam come from one of golden and previous look, the rows from
// the seam on from the other.
func (p *pair) torn() (fault, bool) {
	if p.prev == nil {
		return fault{}, false
	}
	// bad[k][y] counts the pixels in rows above y that do not show picture k.
	var bad [2][]int
	for k, m := range []*picture{p.g, p.prev} {
		bad[k] = make([]int, p.h+1)
		for y := range p.h {
			n := 0
			for i := y * p.w; i < (y+1)*p.w; i++ {
				if p.c.px[i] != m.px[i] && p.counts(i) {
					n++
				}
			}
			bad[k][y+1] = bad[k][y] + n
		}
	}
	best, row, above := p.w*p.h, 0, 0
	for y := tornRows; y <= p.h-tornRows; y++ {
		for k := range 2 {
			if n := bad[k][y] + bad[1-k][p.h] - bad[1-k][y]; n < best {
				best, row, above = n, y, k
			}
		}
	}
	// Either picture alone must explain much less, or there is no seam to speak of.
	alone := min(bad[0][p.h], bad[1][p.h])
	if best*200 > alone || p.box.Dy() <= tornRows {
		return fault{}, false
	}
	// Both pictures must be seen, one above and one below, by what the other does not show.
	upper, lower := 0, 0
	for i, v := range p.prev.px {
		switch {
		case v == p.g.px[i] || !p.counts(i):
		case i < row*p.w:
			upper++
		default:
			lower++
		}
	}
	if least := min(upper, lower); least < 4 || least*500 < max(upper, lower) {
		return fault{}, false
	}
	f := fault{cause: whole("torn", Detail{"row": row}), left: best}
	if above == 0 {
		f.cause.Detail["above"] = "golden"
	} else {
		f.cause.Detail["above"] = "previous"
	}
	f.expect = codesOf(p.prev)
	lo, hi := 0, row*p.w
	if above == 1 {
		lo, hi = hi, len(f.expect)
	}
	copy(f.expect[lo:hi], p.g16[lo:hi])
	return f, true
}

// tornUnseen: without the previous look's picture, a tear can only be guessed from one
// patch over the whole width that ends at an edge of the panel and that nothing else explains.
func (p *pair) tornUnseen(comps []component, regions []Region) (fault, bool) {
	if p.prev != nil || len(comps) == 0 {
		return fault{}, false
	}
	var all image.Rectangle
	other := 0
	for i, k := range comps {
		all = all.Union(k.box)
		if c := regions[i].Cause; c == "other" || c == "text" {
			other += k.pixels
		}
	}
	wide := all.Dx()*10 >= p.w*8 && all.Dy()*4 >= p.h && all.Dy()*10 <= p.h*9
	if !wide || other*3 < p.changed*2 || p.changed*4 < all.Dx()*all.Dy() {
		return fault{}, false
	}
	var row int
	var stayed []uint32
	switch {
	case p.h-all.Max.Y <= p.h/8 && all.Min.Y > p.h/10:
		row = all.Min.Y
		stayed = p.c.px[:row*p.w]
	case all.Min.Y <= p.h/8 && all.Max.Y < p.h*9/10:
		row = all.Max.Y
		stayed = p.c.px[row*p.w:]
	default:
		return fault{}, false
	}
	// Where nothing stands on the other side, nothing says that it is of another picture.
	if !slices.ContainsFunc(stayed, func(c uint32) bool { return c != stayed[0] }) {
		return fault{}, false
	}
	c := whole("torn", Detail{"row": row})
	c.Confidence = 0.5
	c.Instead = []Cause{cause("other", 0.4, Detail{})}
	return fault{cause: c}, true
}

// blank: the capture has one colour, save for a few pixels, and the golden more.
func (p *pair) blank() (fault, bool) {
	hist := histogram(p.c16, p.ignored)
	n, most := 0, uint16(0)
	for _, v := range hist.codes {
		k := hist.count[v]
		n += int(k)
		if k > hist.count[most] {
			most = v
		}
	}
	same := int(hist.count[most])
	if (n-same)*400 > n {
		return fault{}, false
	}
	own := 0 // pixels of that colour in the golden
	for i, v := range p.g16 {
		if v == most && p.counts(i) {
			own++
		}
	}
	left := n - same
	if own == 0 && isOneCode(p.g16) || (n-own) <= 4*left {
		return fault{}, false
	}
	colour := expand565(most)
	for i, v := range p.c16 {
		if v == most && p.counts(i) {
			colour = p.c.px[i]
			break
		}
	}
	f := fault{cause: whole("blank", Detail{"colour": hex(colour)}), left: left, expect: make([]uint16, len(p.c16))}
	for i := range f.expect {
		f.expect[i] = most
	}
	if own*100 > n*95 {
		f.cause.Confidence = 0.8
		f.cause.Instead = []Cause{cause("missing", 0.2, Detail{})}
	}
	return f, true
}

func isOneCode(v []uint16) bool {
	for _, x := range v {
		if x != v[0] {
			return false
		}
	}
	return true
}
