package compare

import "image"

// pair is a golden and a capture of one size, and where they differ.
type pair struct {
	w, h int
	g, c *picture
	prev *picture // the previous look, or nil
	was  *picture // the previous look's golden, or nil
	// ignored is nil when nothing is.
	ignored []bool
	// diff marks differing pixels that count.
	diff    []bool
	changed int
	// g16 and c16 are the pictures packed to 565, made when causes are sought.
	g16, c16 []uint16
	// changed16 counts the pixels that differ at that depth.
	changed16 int
	// inside is working memory of strokeWidth, all false between calls.
	inside []bool
	// turned means that the golden's sides are those of the capture exchanged.
	turned bool
	// box is the tight box of diff.
	box image.Rectangle
}

func newPair(g, c *picture, ignore []image.Rectangle) *pair {
	p := &pair{w: g.w, h: g.h, g: g, c: c, diff: make([]bool, len(g.px))}
	for _, r := range ignore {
		p.ignore(r)
	}
	deep := g.low != nil || c.low != nil
	for y := range p.h {
		lo, hi := -1, -1
		for x := range p.w {
			i := y*p.w + x
			if g.px[i] == c.px[i] && !(deep && lowDiffers(g, c, i)) {
				continue
			}
			if p.ignored != nil && p.ignored[i] {
				continue
			}
			p.diff[i] = true
			p.changed++
			if lo < 0 {
				lo = x
			}
			hi = x
		}
		if lo >= 0 {
			p.box = p.box.Union(image.Rect(lo, y, hi+1, y+1))
		}
	}
	return p
}

func (p *pair) ignore(r image.Rectangle) {
	r = r.Intersect(image.Rect(0, 0, p.w, p.h))
	if r.Empty() {
		return
	}
	if p.ignored == nil {
		p.ignored = make([]bool, p.w*p.h)
	}
	for y := r.Min.Y; y < r.Max.Y; y++ {
		row := p.ignored[y*p.w : (y+1)*p.w]
		for x := r.Min.X; x < r.Max.X; x++ {
			row[x] = true
		}
	}
}

// counts reports whether pixel i may speak for or against a cause.
func (p *pair) counts(i int) bool { return p.ignored == nil || !p.ignored[i] }

func (p *pair) ignoredPixels() int {
	n := 0
	for _, i := range p.ignored {
		if i {
			n++
		}
	}
	return n
}
