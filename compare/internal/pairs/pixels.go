package pairs

import (
	"image"
	"image/color"
)

// bytesExchanged packs to 565, exchanges the bytes and widens by bit replication.
func bytesExchanged(c color.RGBA) color.RGBA {
	hi, lo := c.R&0xf8|c.G>>5, c.G<<3&0xe0|c.B>>3
	hi, lo = lo, hi
	r, g, b := hi>>3, hi<<3&0x38|lo>>5, lo&0x1f
	return color.RGBA{r<<3 | r>>2, g<<2 | g>>4, b<<3 | b>>2, 255}
}

// turned rotates clockwise.
func turned(g *image.RGBA, angle int) *image.RGBA {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	switch angle {
	case 90:
		return place(h, w, func(x, y int) color.RGBA { return g.RGBAAt(y, h-1-x) })
	case 180:
		return place(w, h, func(x, y int) color.RGBA { return g.RGBAAt(w-1-x, h-1-y) })
	default:
		return place(h, w, func(x, y int) color.RGBA { return g.RGBAAt(w-1-y, x) })
	}
}

func place(w, h int, f func(x, y int) color.RGBA) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			m.SetRGBA(x, y, f(x, y))
		}
	}
	return m
}

func each(g *image.RGBA, f func(color.RGBA) color.RGBA) *image.RGBA {
	return place(g.Rect.Dx(), g.Rect.Dy(), func(x, y int) color.RGBA { return f(g.RGBAAt(x, y)) })
}

func distinct(g *image.RGBA) int {
	seen := map[color.RGBA]bool{}
	for i := 0; i < len(g.Pix) && len(seen) < 64; i += 4 {
		seen[color.RGBA{g.Pix[i], g.Pix[i+1], g.Pix[i+2], 255}] = true
	}
	return len(seen)
}
