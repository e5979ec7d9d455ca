package pairs

import (
	"image"
	"image/color"
	"math"
)

// whole applies a whole-panel fault to a screen; ok is false when it cannot be applied.
func (s *Source) whole(cause string) (Pair, bool) {
	name, g := s.base()
	p := Pair{Golden: g, Screen: name}
	if cause == "composed" {
		return s.composed(p)
	}
	c, f, ok := s.apply(g, cause, &p)
	p.Capture, p.Whole = c, []Fault{f}
	if p.Previous == nil && s.rng.IntN(4) == 0 {
		p.Previous = s.other(g)
	}
	return p, ok
}

// composed applies one of each: orientation, channel order, byte order, complement, shift.
func (s *Source) composed(p Pair) (Pair, bool) {
	r := s.rng
	c := p.Golden
	for _, group := range [][]string{{"rotated", "mirrored"}, {"red-blue-swapped"}, {"byte-swapped"}, {"inverted"}, {"shifted"}} {
		if r.IntN(2) == 0 {
			continue
		}
		next, f, ok := s.apply(c, group[r.IntN(len(group))], &p)
		if !ok {
			return p, false
		}
		if equal(next, c) {
			continue // not to be seen on this screen, so not part of the truth
		}
		c = next
		p.Whole = append(p.Whole, f)
	}
	p.Capture = c
	return p, len(p.Whole) > 1
}

// other is another screen of the same size.
func (s *Source) other(g *image.RGBA) *image.RGBA {
	for range 400 {
		sc := s.layout()
		if sc.w == g.Rect.Dx() && sc.h == g.Rect.Dy() {
			return sc.draw()
		}
	}
	sc := &screenSpec{w: g.Rect.Dx(), h: g.Rect.Dy(), fonts: s.fonts, depth: "rgb565", name: "drawn to size"}
	s.colour(sc)
	return sc.draw()
}

func (s *Source) apply(g *image.RGBA, cause string, p *Pair) (*image.RGBA, Fault, bool) {
	r := s.rng
	d := map[string]any{}
	f := Fault{cause, d}
	w, h := g.Rect.Dx(), g.Rect.Dy()
	switch cause {
	case "byte-swapped":
		return each(g, bytesExchanged), f, true
	case "red-blue-swapped":
		return each(g, func(c color.RGBA) color.RGBA { return color.RGBA{c.B, c.G, c.R, 255} }), f, true
	case "inverted":
		return each(g, func(c color.RGBA) color.RGBA { return color.RGBA{255 - c.R, 255 - c.G, 255 - c.B, 255} }), f, true
	case "rotated":
		a := 90 * (1 + r.IntN(3))
		if w != h && r.IntN(2) == 0 {
			a = 180
		}
		d["angle"] = a
		return turned(g, a), f, true
	case "mirrored":
		d["axis"] = []string{"x", "y"}[r.IntN(2)]
		return place(w, h, func(x, y int) color.RGBA {
			if d["axis"] == "x" {
				return g.RGBAAt(w-1-x, y)
			}
			return g.RGBAAt(x, h-1-y)
		}), f, true
	case "shifted":
		return s.shifted(g, f)
	case "sheared":
		k := 1 + r.IntN(min(24, w/4))
		if r.IntN(2) == 0 {
			k = -k
		}
		d["stride_off"] = k
		rest := g.RGBAAt(w-1, h-1)
		if r.IntN(2) == 0 {
			rest = color.RGBA{0, 0, 0, 255}
		}
		return place(w, h, func(x, y int) color.RGBA {
			i := y*(w+k) + x
			if i >= w*h {
				return rest
			}
			return g.RGBAAt(i%w, i/w)
		}), f, true
	case "rescaled":
		return s.rescaled(g, f)
	case "tone":
		gain, gamma := 1.0, 1.0
		for math.Abs(gain-1) < 0.08 && math.Abs(gamma-1) < 0.12 {
			if r.IntN(3) > 0 {
				gain = 0.5 + 0.9*r.Float64()
			}
			if r.IntN(3) > 0 {
				gamma = 0.5 + 1.5*r.Float64()
			}
		}
		d["gain"], d["gamma"] = gain, gamma
		var lut [256]uint8
		for i := range lut {
			lut[i] = uint8(math.Min(255, 255*gain*math.Pow(float64(i)/255, gamma)+0.5))
		}
		out := each(g, func(c color.RGBA) color.RGBA { return color.RGBA{lut[c.R], lut[c.G], lut[c.B], 255} })
		if r.IntN(2) == 0 {
			to565(out)
		}
		return out, f, distinct(g) > 2
	case "fewer-colours":
		return s.fewer(g, f)
	case "blank":
		c := []color.RGBA{{0, 0, 0, 255}, {255, 255, 255, 255}, {0, 252, 0, 255}, g.RGBAAt(0, 0), {uint8(r.IntN(32) * 8), 0, 64, 255}}[r.IntN(5)]
		d["colour"] = c
		return place(w, h, func(int, int) color.RGBA { return c }), f, true
	case "stale":
		p.Previous = s.other(g)
		return clone(p.Previous), f, true
	case "torn":
		p.Previous = s.other(g)
		row := 1 + r.IntN(h-1)
		d["row"] = row
		above, below := p.Previous, g
		if r.IntN(2) == 0 {
			above, below = below, above
		}
		out := place(w, h, func(x, y int) color.RGBA {
			if y < row {
				return above.RGBAAt(x, y)
			}
			return below.RGBAAt(x, y)
		})
		// Where the two pictures do not differ above or below the seam there is no seam.
		return out, f, !equal(out, p.Previous)
	}
	panic("pairs: no whole-panel fault named " + cause)
}

func (s *Source) shifted(g *image.RGBA, f Fault) (*image.RGBA, Fault, bool) {
	r := s.rng
	w, h := g.Rect.Dx(), g.Rect.Dy()
	dx, dy := 0, 0
	for dx == 0 && dy == 0 {
		if r.IntN(3) > 0 {
			dx = r.IntN(w/3) - w/6
			if r.IntN(2) == 0 {
				dx = r.IntN(9) - 4
			}
		}
		if r.IntN(3) > 0 {
			dy = r.IntN(h/3) - h/6
			if r.IntN(2) == 0 {
				dy = r.IntN(9) - 4
			}
		}
	}
	f.Detail["dx"], f.Detail["dy"] = dx, dy
	rest := r.IntN(4)
	return place(w, h, func(x, y int) color.RGBA {
		sx, sy := x-dx, y-dy
		if sx >= 0 && sx < w && sy >= 0 && sy < h {
			return g.RGBAAt(sx, sy)
		}
		switch rest {
		case 0: // memory that wraps
			return g.RGBAAt((sx+w)%w, (sy+h)%h)
		case 1: // memory that never was written
			v := uint8(r.IntN(256))
			return color.RGBA{v, v * 7, v * 13, 255}
		case 2: // what was there before
			return g.RGBAAt(x, y)
		}
		return color.RGBA{0, 0, 0, 255}
	}), f, true
}

func (s *Source) rescaled(g *image.RGBA, f Fault) (*image.RGBA, Fault, bool) {
	r := s.rng
	w, h := g.Rect.Dx(), g.Rect.Dy()
	scale := []float64{0.5, 2, 1.5, 0.75, 1.25, 0.8, 0.6 + r.Float64(), 0.6 + r.Float64()}[r.IntN(8)]
	if math.Abs(scale-1) < 0.08 {
		return nil, f, false
	}
	f.Detail["scale"] = scale
	ow, oh := w, h
	cx, cy := 0.0, 0.0
	switch r.IntN(3) {
	case 0: // the panel got another size
		ow, oh = int(math.Round(float64(w)*scale)), int(math.Round(float64(h)*scale))
	case 1: // grown or shrunk about the centre of the same panel
		cx, cy = float64(w)/2, float64(h)/2
	}
	near := r.IntN(2) == 0
	ground := g.RGBAAt(0, h-1)
	return place(ow, oh, func(x, y int) color.RGBA {
		sx := (float64(x)+0.5-cx)/scale + cx - 0.5
		sy := (float64(y)+0.5-cy)/scale + cy - 0.5
		if ow == w && (sx < -0.5 || sy < -0.5 || sx > float64(w)-0.5 || sy > float64(h)-0.5) {
			return ground
		}
		at := func(x, y int) color.RGBA { return g.RGBAAt(max(0, min(w-1, x)), max(0, min(h-1, y))) }
		if near {
			return at(int(math.Round(sx)), int(math.Round(sy)))
		}
		x0, y0 := int(math.Floor(sx)), int(math.Floor(sy))
		fx, fy := sx-float64(x0), sy-float64(y0)
		return mix(mix(at(x0, y0), at(x0+1, y0), fx), mix(at(x0, y0+1), at(x0+1, y0+1), fx), fy)
	}), f, true
}

// fewer keeps the top bits of each channel, plainly or with ordered dither or error
// diffusion along the row.
func (s *Source) fewer(g *image.RGBA, f Fault) (*image.RGBA, Fault, bool) {
	r := s.rng
	bits := 1 + r.IntN(4)
	f.Detail["bits"] = bits
	mode := r.IntN(3)
	top := float64(int(1)<<bits - 1)
	bayer := [4][4]float64{{0, 8, 2, 10}, {12, 4, 14, 6}, {3, 11, 1, 9}, {15, 7, 13, 5}}
	w, h := g.Rect.Dx(), g.Rect.Dy()
	var err [3]float64
	out := place(w, h, func(x, y int) color.RGBA {
		c := g.RGBAAt(x, y)
		v := [3]float64{float64(c.R), float64(c.G), float64(c.B)}
		var q [3]uint8
		for i := range v {
			t := v[i] / 255 * top
			switch mode {
			case 0:
				t = math.Round(t)
			case 1:
				t = math.Floor(t + (bayer[y%4][x%4]+0.5)/16)
			case 2:
				if x == 0 {
					err[i] = 0
				}
				want := t + err[i]
				t = math.Round(want)
				err[i] = want - math.Max(0, math.Min(top, t))
			}
			q[i] = uint8(math.Round(math.Max(0, math.Min(top, t)) / top * 255))
		}
		return color.RGBA{q[0], q[1], q[2], 255}
	})
	return out, f, distinct(g) > 4
}
