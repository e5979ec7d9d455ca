package compare

import (
	"fmt"
	"image"
)

// explain names the causes of a pair that differs. Whole-panel causes come first; what
// they leave over is explained region by region.
func (p *pair) explain() ([]Cause, []Region) {
	comps, label := components(p.diff, p.w, p.h)
	if c, ok := p.whole(); ok {
		regions := make([]Region, len(comps))
		for i, k := range comps {
			regions[i] = regionOf(k.box, c)
		}
		return []Cause{c}, regions
	}
	regions := p.parts(comps, label)
	return summarise(regions, comps), regions
}

func regionOf(b image.Rectangle, c Cause) Region {
	return Region{
		X: b.Min.X, Y: b.Min.Y, W: b.Dx(), H: b.Dy(),
		Cause: c.Cause, Confidence: c.Confidence, Detail: c.Detail, Instead: c.Instead, Says: c.Says,
	}
}

// recolour is a fault that changes every pixel by the same rule.
type recolour struct {
	cause string
	says  string
	f     func(uint32) uint32
}

var recolours = []recolour{
	{"inverted", "Every colour is its complement: check the panel's inversion command (common practice, no source).",
		func(c uint32) uint32 { return ^c & 0xffffff }},
	{"red-blue-swapped", "Red and blue are exchanged over the whole panel: check the panel's colour-order setting.",
		func(c uint32) uint32 { return c&0xff<<16 | c&0xff00 | c>>16 }},
	{"byte-swapped", "The two bytes of each 16-bit pixel are exchanged: check the byte order of the flush routine.",
		func(c uint32) uint32 { v := pack565(c); return expand565(v>>8 | v<<8) }},
}

// pack565 keeps the top bits of each channel.
func pack565(c uint32) uint16 {
	return uint16(c>>8&0xf800 | c>>5&0x07e0 | c>>3&0x001f)
}

// expand565 fills the low bits with copies of the top ones (v<<3 | v>>2, v<<2 | v>>4).
func expand565(v uint16) uint32 {
	r, g, b := uint32(v>>11), uint32(v>>5&0x3f), uint32(v&0x1f)
	return (r<<3|r>>2)<<16 | (g<<2|g>>4)<<8 | (b<<3 | b>>2)
}

func (p *pair) whole() (Cause, bool) {
	if p.prev != nil && p.equals(p.prev.px) {
		return Cause{Cause: "stale", Confidence: 0.97, Detail: Detail{},
			Says: "The previous look's picture is still there: the screen was not redrawn, or captured too early."}, true
	}
	if colour, ok := p.oneColour(); ok {
		return Cause{Cause: "blank", Confidence: 0.97, Detail: Detail{"colour": hex(colour)},
			Says: fmt.Sprintf("The whole panel is %s.", hex(colour))}, true
	}
	for _, r := range recolours {
		if p.recolouredBy(r.f) {
			return Cause{Cause: r.cause, Confidence: 0.97, Detail: Detail{}, Says: r.says}, true
		}
	}
	return Cause{}, false
}

// equals reports whether the capture is the picture px wherever pixels count.
func (p *pair) equals(px []uint32) bool {
	for i, v := range p.c.px {
		if v != px[i] && p.counts(i) {
			return false
		}
	}
	return true
}

// oneColour reports whether the capture has a single colour and the golden has more.
func (p *pair) oneColour() (colour uint32, ok bool) {
	first, several := true, false
	var golden uint32
	for i, v := range p.c.px {
		switch {
		case !p.counts(i):
		case first:
			first, colour, golden = false, v, p.g.px[i]
		case v != colour:
			return 0, false
		case p.g.px[i] != golden:
			several = true
		}
	}
	return colour, several
}

// recolouredBy holds pixels against each other at the 565 precision of the panel, so
// that it does not matter how the capture was widened.
func (p *pair) recolouredBy(f func(uint32) uint32) bool {
	for i, v := range p.g.px {
		if p.counts(i) && pack565(f(v)) != pack565(p.c.px[i]) {
			return false
		}
	}
	return true
}

func hex(c uint32) string { return fmt.Sprintf("#%06x", c&0xffffff) }

func tooLargeCause() Cause {
	return Cause{Cause: "other", Confidence: 1, Detail: Detail{},
		Says: fmt.Sprintf("A picture has more than %d pixels, which is too large to be compared.", maxPixels)}
}

// explainSizes names why two pictures have different sizes.
func explainSizes(g, c *picture) []Cause {
	return []Cause{{Cause: "other", Confidence: 0.5, Detail: Detail{},
		Says: fmt.Sprintf("The capture is %dx%d, the golden %dx%d.", c.w, c.h, g.w, g.h)}}
}
