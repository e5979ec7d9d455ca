package compare

import (
	"image"
	"image/color"
)

// picture is an image in panel coordinates, laid on black.
type picture struct {
	w, h int
	// px holds 0x00RRGGBB, row after row.
	px []uint32
	// low holds the low bytes of 16-bit samples in the same order; nil when every
	// sample has 8 bits.
	low []uint32
	// shifted means that a 16-bit source has low bytes of zero throughout: an 8-bit
	// picture widened by a shift.
	shifted bool
}

// load copies m. The caller has checked its size.
func load(m image.Image) *picture {
	s := sizeOf(m)
	p := &picture{w: s.X, h: s.Y, px: make([]uint32, s.X*s.Y)}
	if len(p.px) == 0 {
		return p
	}
	b := m.Bounds()
	switch m := m.(type) {
	case *image.RGBA:
		for y := range p.h {
			row := m.Pix[m.PixOffset(b.Min.X, b.Min.Y+y):]
			row = row[:4*p.w]
			out := p.row(y)
			for x := range out {
				q := row[4*x : 4*x+4 : 4*x+4]
				out[x] = uint32(q[0])<<16 | uint32(q[1])<<8 | uint32(q[2])
			}
		}
	case *image.NRGBA:
		for y := range p.h {
			row := m.Pix[m.PixOffset(b.Min.X, b.Min.Y+y):]
			row = row[:4*p.w]
			out := p.row(y)
			for x := range out {
				q := row[4*x : 4*x+4 : 4*x+4]
				if q[3] == 0xff && p.low == nil {
					out[x] = uint32(q[0])<<16 | uint32(q[1])<<8 | uint32(q[2])
				} else {
					p.set(y*p.w+x, color.NRGBA{q[0], q[1], q[2], q[3]})
				}
			}
		}
	case *image.Gray:
		for y := range p.h {
			row := m.Pix[m.PixOffset(b.Min.X, b.Min.Y+y):]
			row = row[:p.w]
			out := p.row(y)
			for x, v := range row {
				out[x] = uint32(v) * 0x010101
			}
		}
	default:
		for y := range p.h {
			for x := range p.w {
				p.set(y*p.w+x, m.At(b.Min.X+x, b.Min.Y+y))
			}
		}
	}
	if p.low != nil && is16(m.ColorModel()) {
		p.shifted = allZero(p.low)
	}
	return p
}

func (p *picture) row(y int) []uint32 { return p.px[y*p.w : (y+1)*p.w : (y+1)*p.w] }

// set stores a colour. Translucency leaves values between two 8-bit levels; their low
// bytes are kept, so that a change of alpha by one is not lost.
func (p *picture) set(i int, c color.Color) {
	// RGBA gives colours times alpha: exactly the picture lying on black.
	r, g, b, _ := c.RGBA()
	p.px[i] = r>>8<<16 | g>>8<<8 | b>>8
	low := r&0xff<<16 | g&0xff<<8 | b&0xff
	if p.low == nil {
		if low == p.px[i] {
			return // as widened from 8 bits
		}
		p.low = make([]uint32, len(p.px))
		copy(p.low, p.px[:i])
	}
	p.low[i] = low
}

func allZero(v []uint32) bool {
	for _, x := range v {
		if x != 0 {
			return false
		}
	}
	return true
}

func is16(m color.Model) bool {
	switch m {
	case color.RGBA64Model, color.NRGBA64Model, color.Gray16Model, color.Alpha16Model:
		return true
	}
	return false
}

// lowDiffers reports whether pixel i, equal in its high bytes, differs in its low ones, which one of the two has at least.
func lowDiffers(a, b *picture, i int) bool {
	switch {
	case a.low != nil && b.low != nil:
		return a.low[i] != b.low[i]
	case a.low != nil:
		return !a.shifted && a.low[i] != b.px[i]
	default:
		return !b.shifted && b.low[i] != a.px[i]
	}
}

// luma is the BT.709 luma of an encoded colour, rounded to 8 bits; a grey is itself.
// The weights 0.2126, 0.7152, 0.0722 are in 1/65536.
func luma(c uint32) uint8 {
	return uint8((c>>16&0xff*13933 + c>>8&0xff*46871 + c&0xff*4732 + 32768) >> 16)
}
