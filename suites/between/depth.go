package between

import (
	"image"
	"image/color"
	"strings"

	"github.com/disintegration/imaging"
)

func luma(c color.Color) uint8 { return color.GrayModel.Convert(c).(color.Gray).Y }

// depths are how many bits a channel has in a format that is poorer than 24 bit.
var depths = map[string][3]int{"rgb565le": {5, 6, 5}, "rgb565be": {5, 6, 5}, "rgb332": {3, 3, 2}}

// oneDepth brings both pictures to the poorer depth.
func (b *boards) oneDepth(before, after image.Image) (image.Image, image.Image) {
	f := b.formats
	if f[0] == f[1] || f[0] == "" || f[1] == "" {
		return before, after
	}
	mono := func(s string) bool { return strings.HasPrefix(s, "mono") }
	sides := [2]*image.Image{&before, &after}
	for k := range sides {
		other := f[1-k]
		switch bits, poor := depths[other]; {
		case mono(other) && !mono(f[k]):
			*sides[k] = mapped(*sides[k], func(c color.NRGBA) color.NRGBA {
				if luma(c) >= 128 {
					return color.NRGBA{255, 255, 255, 255}
				}
				return color.NRGBA{0, 0, 0, 255}
			})
			b.say("%s has %s and %s %s: colours are made black or white at half their lightness. Colours cannot be compared.", [2]string{"Before", "After"}[k], f[k], [2]string{"after", "before"}[k], other)
		case poor && !mono(f[k]) && coarser(bits, depths[f[k]]):
			*sides[k] = mapped(*sides[k], func(c color.NRGBA) color.NRGBA {
				return color.NRGBA{fewer(c.R, bits[0]), fewer(c.G, bits[1]), fewer(c.B, bits[2]), 255}
			})
			after = blended(before, after, bits)
			b.say("%s has %s and %s %s: compared with %d, %d and %d bits a channel. What differs by one step of these, or by two where colours meet, cannot be compared.", [2]string{"Before", "After"}[k], f[k], [2]string{"after", "before"}[k], other, bits[0], bits[1], bits[2])
		}
	}
	return before, after
}

// blended gives after, but as before where it lies no further off than rounding takes it: a colour of more bits may
// come out a step off, and one blended of two colours that were rounded first two.
func blended(before, after image.Image, bits [3]int) image.Image {
	was, is := imaging.Clone(before), imaging.Clone(after)
	out := imaging.Clone(after)
	w, h := was.Rect.Dx(), was.Rect.Dy()
	for y := range h {
		for x := range w {
			i, off := y*was.Stride+4*x, 0
			for c := range 3 {
				d := int(was.Pix[i+c])>>(8-bits[c]) - int(is.Pix[i+c])>>(8-bits[c])
				off = max(off, d, -d)
			}
			if off == 1 || off == 2 && !(flat(was, x, y) && flat(is, x, y)) {
				copy(out.Pix[i:i+4], was.Pix[i:i+4])
			}
		}
	}
	return out
}

// flat reports whether a pixel is of one colour with those beside, above and below it.
func flat(m *image.NRGBA, x, y int) bool {
	c := m.NRGBAAt(x, y)
	for _, d := range [4]image.Point{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
		if p := image.Pt(x, y).Add(d); p.In(m.Rect) && m.NRGBAAt(p.X, p.Y) != c {
			return false
		}
	}
	return true
}

// coarser reports whether a depth is poorer than another, of which none known means 24 bit.
func coarser(a, b [3]int) bool { return b == [3]int{} || a[0]+a[1]+a[2] < b[0]+b[1]+b[2] }

// fewer keeps the top bits of a channel and fills the rest with copies of them, as capture does.
func fewer(v uint8, bits int) uint8 {
	top := int(v) >> (8 - bits)
	out := 0
	for at := 8 - bits; at > -bits; at -= bits {
		if at >= 0 {
			out |= top << at
		} else {
			out |= top >> -at
		}
	}
	return uint8(out)
}

func mapped(m image.Image, f func(color.NRGBA) color.NRGBA) image.Image {
	out := imaging.Clone(m)
	for i := 0; i < len(out.Pix); i += 4 {
		c := f(color.NRGBA{out.Pix[i], out.Pix[i+1], out.Pix[i+2], out.Pix[i+3]})
		out.Pix[i], out.Pix[i+1], out.Pix[i+2], out.Pix[i+3] = c.R, c.G, c.B, c.A
	}
	return out
}
