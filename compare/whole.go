package compare

import "image"

// explain names the causes of a pair that differs. Whole-panel causes come first; what
// they leave over is explained region by region.
func (p *pair) explain(partsOnly bool) ([]Cause, []Region) {
	comps, label := components(p.diff, p.w, p.h)
	if partsOnly {
		regions := p.parts(comps, label)
		return summarise(regions, comps), regions
	}
	if f, ok := p.whole(); ok {
		causes, regions := []Cause{f.cause}, make([]Region, len(comps))
		for i, k := range comps {
			regions[i] = regionOf(k.box, f.cause)
		}
		if rest := p.rest(f); rest != nil {
			comps, label := components(rest.diff, p.w, p.h)
			more := rest.parts(comps, label)
			causes = append(causes, summarise(more, comps)...)
			regions = append(regions, more...)
		}
		return causes, regions
	}
	regions := p.parts(comps, label)
	if f, ok := p.tornUnseen(comps, regions); ok {
		for i, k := range comps {
			regions[i] = regionOf(k.box, f.cause)
		}
		return []Cause{f.cause}, regions
	}
	return summarise(regions, comps), regions
}

func regionOf(b image.Rectangle, c Cause) Region {
	return Region{
		X: b.Min.X, Y: b.Min.Y, W: b.Dx(), H: b.Dy(),
		Cause: c.Cause, Confidence: c.Confidence, Detail: c.Detail, Instead: c.Instead, Says: c.Says,
	}
}

// fault is a whole-panel explanation.
type fault struct {
	cause Cause
	// expect holds what the capture should be if this were all, in 565 codes, where
	// known is set; nil when no such picture can be named.
	expect []uint16
	known  []bool
	// left counts the pixels that the fault does not explain.
	left int
}

// rest is the pair that remains when the fault is taken as done, or nil if nothing does.
func (p *pair) rest(f fault) *pair {
	if f.expect == nil || f.left == 0 {
		return nil
	}
	r := &pair{w: p.w, h: p.h, c: p.c, ignored: p.ignored, diff: make([]bool, len(p.diff)),
		g: &picture{w: p.w, h: p.h, px: make([]uint32, len(p.g.px))}}
	for i, v := range f.expect {
		r.g.px[i] = p.c.px[i]
		if (f.known == nil || f.known[i]) && v != pack565(p.c.px[i]) && p.counts(i) {
			r.g.px[i] = expand565(v)
			r.diff[i] = true
			r.changed++
		}
	}
	if r.changed == 0 {
		return nil
	}
	return r
}

// whole looks for a fault of the whole panel, the surest kinds first.
func (p *pair) whole() (fault, bool) {
	p.codes()
	if p.hiddenBelow8() {
		return fault{}, false
	}
	exactly := func() (fault, bool) { return p.stale(false) }
	nearly := func() (fault, bool) { return p.stale(true) }
	for _, try := range []func() (fault, bool){exactly, p.torn, nearly, p.blank, p.reordered} {
		if f, ok := try(); ok {
			return f, true
		}
	}
	// A change in one corner of the panel is no fault of the whole of it.
	if p.box.Dx()*p.box.Dy()*8 < p.w*p.h {
		return fault{}, false
	}
	for _, try := range []func() (fault, bool){p.sheared, p.fewerColours, p.tone, p.rescaled} {
		if f, ok := try(); ok {
			return f, true
		}
	}
	return fault{}, false
}

// codes packs both pictures to 565, the depth at which faults of the pixel path act.
func (p *pair) codes() {
	p.g16, p.c16 = codesOf(p.g), codesOf(p.c)
	p.changed16 = 0
	for i, v := range p.g16 {
		if v != p.c16[i] && p.counts(i) {
			p.changed16++
		}
	}
}

func codesOf(m *picture) []uint16 {
	out := make([]uint16, len(m.px))
	for i, v := range m.px {
		out[i] = pack565(v)
	}
	return out
}

// hiddenBelow8 reports whether the pictures differ in the low bytes of 16-bit samples only.
func (p *pair) hiddenBelow8() bool {
	for i, d := range p.diff {
		if d && p.g.px[i] != p.c.px[i] {
			return false
		}
	}
	return true
}

// pack565 keeps the top bits of each channel.
func pack565(c uint32) uint16 {
	return uint16(c>>8&0xf800 | c>>5&0x07e0 | c>>3&0x001f)
}

// expand565 fills the low bits with copies of the top ones (v<<3 | v>>2, v<<2 | v>>4),
// which maps the lowest code to 0 and the highest to 255.
func expand565(v uint16) uint32 {
	r, g, b := uint32(v>>11), uint32(v>>5&0x3f), uint32(v&0x1f)
	return (r<<3|r>>2)<<16 | (g<<2|g>>4)<<8 | (b<<3 | b>>2)
}
