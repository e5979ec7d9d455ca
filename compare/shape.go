package compare

import "math"

// edges: every changed pixel lies where colours meet in both pictures, and keeps within
// the colours that meet there; on the whole the change is well under the step between them.
func (p *pair) edges(r *region) *guess {
	outside, step, bold := p.edgeStats(r)
	switch {
	case bold > 0.06:
		return nil
	case outside <= 0.05 && step <= 0.55:
	case outside <= 0.2 && step <= 0.35:
	case outside <= 0.6 && step <= 0.28:
	default:
		return nil
	}
	// A colour that faded towards the ground keeps within its surroundings too, but then
	// the full colour of the content changed.
	g, gn := p.ink(r, p.g, &r.g)
	c, cn := p.ink(r, p.c, &r.c)
	switch {
	case gn > 0 && cn > 0 && near(g, c, 20):
	case (gn == 0 || cn == 0) && step <= 0.3: // a rim so faint that it became ground
	case outside <= 0.05 && step <= 0.15: // a rim whose full colour lies beyond the change
	default:
		return nil
	}
	return guessed("edges", Detail{"step": math.Round(step*100) / 100})
}

// edgeStats gives the share of changed pixels that do not keep within the colours around
// them, the mean change as a share of the step between those, and the share of pixels
// that change by more than 0.62 of it, as where a stroke begins or ends.
func (p *pair) edgeStats(r *region) (outside, step, bold float64) {
	out, big, share := 0, 0, 0.0
	at := r.sample()
	for _, i := range at {
		x, y := int(i)%p.w, int(i)/p.w
		var gLo, gHi, cLo, cHi [3]int
		for k := range 3 {
			gLo[k], cLo[k] = 255, 255
		}
		for ny := max(0, y-1); ny <= min(p.h-1, y+1); ny++ {
			for nx := max(0, x-1); nx <= min(p.w-1, x+1); nx++ {
				g, c := p.g.px[ny*p.w+nx], p.c.px[ny*p.w+nx]
				for k := range 3 {
					gv, cv := int(g>>(8*k)&0xff), int(c>>(8*k)&0xff)
					gLo[k], gHi[k] = min(gLo[k], gv), max(gHi[k], gv)
					cLo[k], cHi[k] = min(cLo[k], cv), max(cHi[k], cv)
				}
			}
		}
		const slack = 8 // one step of 5 bits
		stray := false
		top, change := 1, 0
		for k := range 3 {
			g, c := int(p.g.px[i]>>(8*k)&0xff), int(p.c.px[i]>>(8*k)&0xff)
			if c < gLo[k]-slack || c > gHi[k]+slack || g < cLo[k]-slack || g > cHi[k]+slack {
				stray = true
			}
			top = max(top, gHi[k]-gLo[k], cHi[k]-cLo[k])
			change = max(change, abs(c-g))
		}
		if stray || gHi == gLo && cHi == cLo {
			out++
		}
		share += float64(change) / float64(top)
		if float64(change) > 0.62*float64(top) {
			big++
		}
	}
	n := float64(len(at))
	return float64(out) / n, share / n, float64(big) / n
}

// outgrown: the whole content is surely the same at another size, though its inner parts
// may have moved.
func (p *pair) outgrown(r *region) *guess {
	if r.g.leaked || r.c.leaked {
		return nil
	}
	return p.resizedBy(r, 0.93)
}

// resized: the content has another size, and scaled to one size it is alike.
func (p *pair) resized(r *region) *guess {
	need := 0.75
	if len(r.g.at) == 0 || len(r.c.at) == 0 {
		return nil
	}
	sx, sy := growth(r)
	dw, dh := r.c.box.Dx()-r.g.box.Dx(), r.c.box.Dy()-r.g.box.Dy()
	switch {
	case math.Abs(math.Log(sx))+math.Abs(math.Log(sy)) < 0.06:
		return nil
	// Scaled alike in width and height but for rounding, and by enough to be told from
	// other letters of about one size.
	case math.Abs(math.Log(sx)) > 0.09 && dw*dh > 0 && math.Abs(float64(dh)-(sx-1)*float64(r.g.box.Dy())) <= 1.3:
		need = 0.33
	case math.Abs(math.Log(sx/sy)) < 0.16 && math.Abs(math.Log(sy)) > 0.06:
		need = 0.65
	}
	return p.resizedBy(r, need)
}

// growth is the content's size in the capture over that in the golden.
func growth(r *region) (sx, sy float64) {
	return float64(r.c.box.Dx()) / float64(r.g.box.Dx()), float64(r.c.box.Dy()) / float64(r.g.box.Dy())
}

func (p *pair) resizedBy(r *region, need float64) *guess {
	g, c := r.g, r.c
	if len(g.at) < 8 || len(c.at) < 8 {
		return nil
	}
	sx, sy := growth(r)
	if math.Abs(sx-1) < 0.005 && math.Abs(sy-1) < 0.005 {
		return nil
	}
	// Strokes of a word a pixel wide hardly overlap when it is drawn at another size; their places do.
	word := math.Abs(math.Log(sx)) > 0.09 && math.Abs(math.Log(sx/sy)) < 0.25 && p.scaledAlike(r) >= 0.75
	if !word && p.scaledShape(r) < need {
		return nil
	}
	return guessed("resized", Detail{"from": [2]int{g.box.Dx(), g.box.Dy()}, "to": [2]int{c.box.Dx(), c.box.Dy()}})
}

// scaledShape is the overlap, 0 to 1, of golden and capture content brought to one size:
// the sum of the lesser over the sum of the greater distance from the ground.
func (p *pair) scaledShape(r *region) float64 {
	const side = 32
	a, b := p.fields(r, p.g, r.g, side, side), p.fields(r, p.c, r.c, side, side)
	var lo, hi float64
	for i := range a {
		lo += math.Min(a[i], b[i])
		hi += math.Max(a[i], b[i])
	}
	if hi == 0 {
		return 0
	}
	return lo / hi
}

// scaledAlike is the correlation, -1 to 1, of the capture's content with the golden's brought to
// its size, both softened by a pixel.
func (p *pair) scaledAlike(r *region) float64 {
	w, h := r.c.box.Dx(), r.c.box.Dy()
	if w < 4 || h < 4 {
		return 0
	}
	a, b := soften(p.fields(r, p.g, r.g, w, h), w, h), soften(p.fields(r, p.c, r.c, w, h), w, h)
	var ma, mb float64
	for i := range a {
		ma, mb = ma+a[i], mb+b[i]
	}
	ma, mb = ma/float64(len(a)), mb/float64(len(b))
	var ab, aa, bb float64
	for i := range a {
		x, y := a[i]-ma, b[i]-mb
		ab, aa, bb = ab+x*y, aa+x*x, bb+y*y
	}
	if aa == 0 || bb == 0 {
		return 0
	}
	return ab / math.Sqrt(aa*bb)
}

// soften averages each field with its eight neighbours.
func soften(v []float64, w, h int) []float64 {
	out := make([]float64, len(v))
	for y := range h {
		for x := range w {
			sum, n := 0.0, 0.0
			for j := max(0, y-1); j <= min(h-1, y+1); j++ {
				for i := max(0, x-1); i <= min(w-1, x+1); i++ {
					sum, n = sum+v[j*w+i], n+1
				}
			}
			out[y*w+x] = sum / n
		}
	}
	return out
}

// fields averages the content's distance from the ground, 0 to 1, into across x down fields.
func (p *pair) fields(r *region, m *picture, c content, across, down int) []float64 {
	w, h := c.box.Dx(), c.box.Dy()
	full := make([]float64, w*h)
	top := 1.0
	for _, i := range c.at {
		x, y := int(i)%p.w, int(i)/p.w
		d := float64(colourStep(m.px[i], r.ground.at(x, y)))
		full[(y-c.box.Min.Y)*w+x-c.box.Min.X] = d
		top = math.Max(top, d)
	}
	out := make([]float64, across*down)
	for y := range down {
		y0, y1 := y*h/down, max(y*h/down+1, (y+1)*h/down)
		for x := range across {
			x0, x1 := x*w/across, max(x*w/across+1, (x+1)*w/across)
			sum := 0.0
			for j := y0; j < y1; j++ {
				for i := x0; i < x1; i++ {
					sum += full[j*w+i]
				}
			}
			out[y*across+x] = sum / top / float64((x1-x0)*(y1-y0))
		}
	}
	return out
}

// colourStep is the largest difference of a channel.
func colourStep(a, b uint32) int {
	return max(abs(int(a>>16&0xff)-int(b>>16&0xff)), abs(int(a>>8&0xff)-int(b>>8&0xff)), abs(int(a&0xff)-int(b&0xff)))
}
