package compare

import (
	"image"
	"image/color"
	"math"
)

// whole is a fault of the whole panel.
func (f *finer) whole(p *saidPair) *image.RGBA {
	m, w, h := p.golden, f.size.X, f.size.Y
	what := f.IntN(10)
	p.name += string(rune('A' + what))
	switch what {
	case 0: // displaced, and often in other colours
		dx, dy := f.IntN(w+1)-w/2, f.IntN(h+1)-h/2
		if f.IntN(3) > 0 {
			dx, dy = dx/4, dy/4*f.IntN(2)
		}
		fill, order := f.IntN(3), f.IntN(6)
		return f.pixels(m, func(x, y int, _ color.RGBA) color.RGBA {
			sx, sy := x-dx, y-dy
			switch fill {
			case 0:
				sx, sy = (sx+w)%w, (sy+h)%h
			case 1:
				sx, sy = max(0, min(w-1, sx)), max(0, min(h-1, sy))
			}
			c := inOtherColours(m.RGBAAt(sx, sy), order)
			c.A = 255
			return c
		})
	case 1: // another pitch
		k := f.IntN(w) - w/2
		return f.pixels(m, func(x, y int, _ color.RGBA) color.RGBA {
			i := y*(w+k) + x
			return m.RGBAAt(i%w, i/w)
		})
	case 2:
		gain, gamma := 0.5+f.Float64(), 0.4+1.4*f.Float64()
		return f.levels(m, func(v float64) float64 { return 255 * gain * math.Pow(v/255, gamma) })
	case 3:
		gain, offset := 0.3+f.Float64(), float64(f.IntN(120)-60)
		return f.levels(m, func(v float64) float64 { return gain*v + offset })
	case 4: // fewer bits: rounded, cut off, dithered
		bits, how := 1+f.IntN(6), f.IntN(4)
		step := 255 / float64(int(1)<<bits-1)
		bayer := [4]float64{0.125, 0.625, 0.875, 0.375}
		return f.pixels(m, func(x, y int, c color.RGBA) color.RGBA {
			level := func(v byte) byte {
				switch how {
				case 0:
					return byte(math.Round(math.Round(float64(v)/step) * step))
				case 1:
					return v >> (8 - bits) << (8 - bits)
				case 2:
					return byte(math.Round(math.Min(255, math.Floor(float64(v)/step+bayer[x%2+y%2*2])*step)))
				}
				return byte(math.Floor(float64(v)/step) * step)
			}
			return color.RGBA{level(c.R), level(c.G), level(c.B), 255}
		})
	case 5: // another scale, about the corner or the centre, on this panel or one of that size
		s := 0.5 + 1.5*f.Float64()
		if f.IntN(2) == 0 {
			out := image.NewRGBA(image.Rect(0, 0, max(1, int(float64(w)*s)), max(1, int(float64(h)*s+float64(f.IntN(5))-2))))
			return f.pixels(out, func(x, y int, _ color.RGBA) color.RGBA {
				return m.RGBAAt(x*w/out.Rect.Dx(), y*h/out.Rect.Dy())
			})
		}
		cx, cy := float64(w)/2*float64(f.IntN(2)), float64(h)/2
		if cx == 0 {
			cy = 0
		}
		return f.pixels(m, func(x, y int, _ color.RGBA) color.RGBA {
			c := m.RGBAAt(int(math.Floor((float64(x)+0.5-cx)/s+cx)), int(math.Floor((float64(y)+0.5-cy)/s+cy)))
			c.A = 255
			return c
		})
	case 6: // a seam between two looks, seen or not
		other := paint(f.screen(), f.size)
		row, below := f.IntN(h+1), f.IntN(2) == 0
		if f.IntN(3) > 0 {
			p.opt.Previous = other
		}
		return f.pixels(m, func(x, y int, c color.RGBA) color.RGBA {
			if (y < row) == below {
				return other.RGBAAt(x, y)
			}
			return c
		})
	case 7: // one colour, and specks
		c, share := f.colour(), f.IntN(500)
		return f.pixels(m, func(x, y int, was color.RGBA) color.RGBA {
			if f.IntN(500*500) < share*3 {
				return was
			}
			return c
		})
	}
	if what == 8 { // all of the look before, but for a few pixels
		prev, was := paint(f.screen(), f.size), paint(f.screen(), f.size)
		p.opt.Previous = prev
		switch f.IntN(3) {
		case 0:
			p.opt.PreviousGolden = was
		case 1:
			p.opt.PreviousGolden = prev
		}
		spare := max(0, f.IntN(12)-5)
		return f.pixels(prev, func(x, y int, c color.RGBA) color.RGBA {
			if f.IntN(w*h) < spare {
				return f.colour()
			}
			return c
		})
	}
	// Turned, in other colours, with a few pixels that are not.
	kind, order, spare := f.IntN(8), f.IntN(4), f.IntN(40)
	out := image.NewRGBA(m.Rect)
	if kind >= 4 {
		out = image.NewRGBA(image.Rect(0, 0, h, w))
	}
	return f.pixels(out, func(x, y int, _ color.RGBA) color.RGBA {
		if f.IntN(1000) < spare {
			return color.RGBA{byte(x), byte(y), 99, 255}
		}
		if kind >= 4 {
			x, y = y, x
		}
		if kind&1 != 0 {
			x = w - 1 - x
		}
		if kind&2 != 0 {
			y = h - 1 - y
		}
		c := inOtherColours(m.RGBAAt(x, y), order-1)
		if order == 3 {
			v := uint16(c.R>>3)<<11 | uint16(c.G>>2)<<5 | uint16(c.B>>3)
			e := expand565(v>>8 | v<<8)
			c.R, c.G, c.B = byte(e>>16), byte(e>>8), byte(e)
		}
		return c
	})
}

// inOtherColours exchanges red and blue (0), or inverts (1); else a colour stays.
func inOtherColours(c color.RGBA, order int) color.RGBA {
	switch order {
	case 0:
		c.R, c.B = c.B, c.R
	case 1:
		c.R, c.G, c.B = ^c.R, ^c.G, ^c.B
	}
	return c
}
