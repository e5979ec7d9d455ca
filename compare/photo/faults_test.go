package photo

import (
	"image"
	"image/color"
	"image/draw"
	"math/rand/v2"
)

// A fault makes, from a screen, a golden and what the panel shows instead.
type fault struct {
	name string
	make func(r *rand.Rand, m *image.RGBA) (golden, shown *image.RGBA)
}

func clone(m image.Image) *image.RGBA {
	b := m.Bounds()
	out := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	draw.Draw(out, out.Bounds(), m, b.Min, draw.Src)
	return out
}

func fillRect(m *image.RGBA, r image.Rectangle, c color.Color) {
	draw.Draw(m, r, image.NewUniform(c), image.Point{}, draw.Src)
}

// place picks a box inside the panel.
func place(r *rand.Rand, m *image.RGBA, w, h int) image.Rectangle {
	x, y := 6+r.IntN(m.Rect.Dx()-w-12), 6+r.IntN(m.Rect.Dy()-h-12)
	return image.Rect(x, y, x+w, y+h)
}

// ink is a colour whose every channel is at least 60 levels, and at most by about 120, from c's.
func ink(r *rand.Rand, c color.RGBA) color.RGBA {
	d := uint8(60 + r.IntN(60))
	f := func(v uint8) uint8 {
		if v >= 128 {
			return v - d
		}
		return v + d
	}
	return color.RGBA{f(c.R), f(c.G), f(c.B), 255}
}

func word(r *rand.Rand, m *image.RGBA, at image.Point, c color.Color) {
	for i := range 5 {
		for j := range 8 {
			stem := r.IntN(5)
			for k := range 5 {
				if k == stem || r.IntN(3) == 0 {
					m.Set(at.X+7*i+k, at.Y+j, c)
				}
			}
		}
	}
}

var faults = []fault{
	{"changed word", func(r *rand.Rand, m *image.RGBA) (*image.RGBA, *image.RGBA) {
		b := place(r, m, 40, 14)
		back := m.RGBAAt(b.Min.X, b.Min.Y)
		c := ink(r, back)
		g, s := clone(m), clone(m)
		for _, p := range []*image.RGBA{g, s} {
			fillRect(p, b, back)
			word(r, p, b.Min.Add(image.Pt(3, 3)), c)
		}
		return g, s
	}},
	{"missing icon", func(r *rand.Rand, m *image.RGBA) (*image.RGBA, *image.RGBA) {
		b := place(r, m, 20, 20)
		back := m.RGBAAt(b.Min.X, b.Min.Y)
		g, s := clone(m), clone(m)
		fillRect(g, b, back)
		fillRect(s, b, back)
		c := ink(r, back)
		fillRect(g, image.Rect(b.Min.X+4, b.Min.Y+4, b.Min.X+16, b.Min.Y+7), c)
		fillRect(g, image.Rect(b.Min.X+9, b.Min.Y+7, b.Min.X+12, b.Min.Y+16), c)
		return g, s
	}},
	{"button moved 1 px", moved(1)}, {"button moved 2 px", moved(2)},
	{"button 5 levels off", func(r *rand.Rand, m *image.RGBA) (*image.RGBA, *image.RGBA) {
		b := place(r, m, 64, 22)
		c := color.RGBA{uint8(60 + r.IntN(130)), uint8(60 + r.IntN(130)), uint8(60 + r.IntN(130)), 255}
		g, s := clone(m), clone(m)
		fillRect(g, b, c)
		fillRect(s, b, color.RGBA{c.R + 5, c.G + 5, c.B + 5, 255})
		return g, s
	}},
	{"missing line", func(r *rand.Rand, m *image.RGBA) (*image.RGBA, *image.RGBA) {
		b := place(r, m, 100, 9)
		back := m.RGBAAt(b.Min.X, b.Min.Y)
		g, s := clone(m), clone(m)
		fillRect(g, b, back)
		fillRect(s, b, back)
		fillRect(g, image.Rect(b.Min.X, b.Min.Y+4, b.Max.X, b.Min.Y+5), ink(r, back))
		return g, s
	}},
	{"single pixel", func(r *rand.Rand, m *image.RGBA) (*image.RGBA, *image.RGBA) {
		b := place(r, m, 9, 9)
		back := m.RGBAAt(b.Min.X, b.Min.Y)
		g, s := clone(m), clone(m)
		fillRect(g, b, back)
		fillRect(s, b, back)
		s.SetRGBA(b.Min.X+4, b.Min.Y+4, ink(r, back))
		return g, s
	}},
}

func moved(by int) func(r *rand.Rand, m *image.RGBA) (*image.RGBA, *image.RGBA) {
	return func(r *rand.Rand, m *image.RGBA) (*image.RGBA, *image.RGBA) {
		b := place(r, m, 64, 26)
		back := m.RGBAAt(b.Min.X, b.Min.Y)
		c := ink(r, back)
		seed := r.Uint64()
		g, s := clone(m), clone(m)
		for i, p := range []*image.RGBA{g, s} {
			fillRect(p, b, back)
			q := image.Rect(b.Min.X+4+i*by, b.Min.Y+4, b.Max.X-6+i*by, b.Max.Y-4)
			fillRect(p, q, c)
			word(rand.New(rand.NewPCG(seed, 1)), p, q.Min.Add(image.Pt(6, 5)), back)
		}
		return g, s
	}
}
