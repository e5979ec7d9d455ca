package compare

import (
	"image"
	"math"
)

// stretched: a shape's end moved along one axis, as a bar's does: the body goes on where
// ground or track was, the cap stands further along.
func (p *pair) stretched(r *region) *guess {
	b := r.box
	type access func(m *picture, u, v int) (uint32, bool)
	var first *guess
	at := func(m *picture, x, y int) (uint32, bool) {
		if x < 0 || y < 0 || x >= p.w || y >= p.h {
			return 0, false
		}
		return m.px[y*p.w+x], true
	}
	// u runs along the axis from the body to the end, v across it.
	for _, dir := range []struct {
		get  access
		u, v int
		axis string
		sign int // of the axis, from body to end
	}{
		{func(m *picture, u, v int) (uint32, bool) { return at(m, b.Min.X+u, b.Min.Y+v) }, b.Dx(), b.Dy(), "x", 1},
		{func(m *picture, u, v int) (uint32, bool) { return at(m, b.Max.X-1-u, b.Min.Y+v) }, b.Dx(), b.Dy(), "x", -1},
		{func(m *picture, u, v int) (uint32, bool) { return at(m, b.Min.X+v, b.Min.Y+u) }, b.Dy(), b.Dx(), "y", 1},
		{func(m *picture, u, v int) (uint32, bool) { return at(m, b.Min.X+v, b.Max.Y-1-u) }, b.Dy(), b.Dx(), "y", -1},
	} {
		if dir.v < 2 {
			continue
		}
		for _, pics := range [2][2]*picture{{p.g, p.c}, {p.c, p.g}} {
			short := func(u, v int) (uint32, bool) { return dir.get(pics[0], u, v) }
			long := func(u, v int) (uint32, bool) { return dir.get(pics[1], u, v) }
			if n := grownBy(r, short, long, dir.u, dir.v); n > 0 {
				if pics[0] == p.c {
					n = -n
				}
				g := guessed("resized", Detail{"axis": dir.axis, "by": n})
				body, _ := short(-1, dir.v/2)
				r.ends = append(r.ends, end{axis: dir.axis, sign: dir.sign, moved: n * dir.sign, body: body})
				if first == nil {
					first = g
				}
				break
			}
		}
	}
	return first
}

// end is the end of a shape that moved along an axis.
type end struct {
	axis  string
	sign  int    // +1: the end on the right or at the bottom
	moved int    // px along the axis
	body  uint32 // the colour that the shape has there
}

// grownBy gives the number of pixels by which the shape in long is longer than in short,
// 0 if it is not the same shape. A cap of up to 16 px may end it.
func grownBy(r *region, short, long func(u, v int) (uint32, bool), U, V int) int {
	same := func(f func(u, v int) (uint32, bool), u int, g func(u, v int) (uint32, bool), w int) bool {
		bad := 0
		for v := range V {
			a, ok1 := f(u, v)
			b, ok2 := g(w, v)
			if !ok1 || !ok2 {
				return false
			}
			if !r.alike(a, b) {
				bad++
			}
		}
		return bad*20 <= V
	}
	// The body must differ from what lies beyond the end, or nothing ends here.
	if _, ok := long(-1, 0); !ok || same(long, -1, short, U) {
		return 0
	}
next:
	for n := U; n >= max(1, U-16); n-- {
		for u := range n {
			if !same(long, u, long, -1) {
				continue next
			}
		}
		for u := n; u < U; u++ {
			if !same(long, u, short, u-n) {
				continue next
			}
		}
		for u := U - n; u < U; u++ {
			if !same(short, u, short, U) {
				continue next
			}
		}
		return n
	}
	return 0
}

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
	if sx, sy := growth(r); math.Abs(sx-1) < 0.005 && math.Abs(sy-1) < 0.005 || p.scaledShape(r) < need {
		return nil
	}
	return guessed("resized", Detail{"from": [2]int{g.box.Dx(), g.box.Dy()}, "to": [2]int{c.box.Dx(), c.box.Dy()}})
}

// scaledShape is the overlap, 0 to 1, of golden and capture content brought to one size:
// the sum of the lesser over the sum of the greater distance from the ground.
func (p *pair) scaledShape(r *region) float64 {
	const side = 32
	if len(r.g.at) == 0 || len(r.c.at) == 0 {
		return 0
	}
	a, b := p.stamp(r, p.g, r.g, side), p.stamp(r, p.c, r.c, side)
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

// stamp averages the content's distance from the ground, 0 to 1, into side x side fields.
func (p *pair) stamp(r *region, m *picture, c content, side int) []float64 {
	w, h := c.box.Dx(), c.box.Dy()
	full := make([]float64, w*h)
	top := 1.0
	for _, i := range c.at {
		x, y := int(i)%p.w, int(i)/p.w
		d := float64(colourStep(m.px[i], r.ground.at(x, y)))
		full[(y-c.box.Min.Y)*w+x-c.box.Min.X] = d
		top = math.Max(top, d)
	}
	out := make([]float64, side*side)
	for y := range side {
		y0, y1 := y*h/side, max(y*h/side+1, (y+1)*h/side)
		for x := range side {
			x0, x1 := x*w/side, max(x*w/side+1, (x+1)*w/side)
			sum := 0.0
			for j := y0; j < y1; j++ {
				for i := x0; i < x1; i++ {
					sum += full[j*w+i]
				}
			}
			out[y*side+x] = sum / top / float64((x1-x0)*(y1-y0))
		}
	}
	return out
}

// colourStep is the largest difference of a channel.
func colourStep(a, b uint32) int {
	return max(abs(int(a>>16&0xff)-int(b>>16&0xff)), abs(int(a>>8&0xff)-int(b>>8&0xff)), abs(int(a&0xff)-int(b&0xff)))
}

// foldResized takes regions inside a thing that was resized as parts of it: a button that
// grew also moves its caption.
func foldResized(list []*region, guesses []*guess) {
	for i, r := range list {
		if guesses[i].cause != "resized" {
			continue
		}
		in := image.Rectangle{}
		if !r.g.leaked && !r.c.leaked && len(r.g.at) > 0 && len(r.c.at) > 0 {
			in = r.g.box.Union(r.c.box)
		}
		for j, o := range list {
			if j == i || guesses[j].cause == "resized" {
				continue
			}
			if o.box.In(in) || guesses[j].cause == "moved" && onBody(r, o) {
				guesses[j] = guesses[i]
			}
		}
	}
}

// onBody reports whether region o stands on the body of the shape whose end is r.
func onBody(r, o *region) bool {
	for _, e := range r.ends {
		if !o.ground.flat || o.ground.colour != e.body {
			continue
		}
		if e.axis == "x" && o.box.Min.Y >= r.box.Min.Y && o.box.Max.Y <= r.box.Max.Y ||
			e.axis == "y" && o.box.Min.X >= r.box.Min.X && o.box.Max.X <= r.box.Max.X {
			return true
		}
	}
	return false
}

// joinEnds takes two opposite ends of a shape that went the same way for a shape that moved.
func joinEnds(list []*region, guesses []*guess) {
	for i, a := range list {
		for j, b := range list {
			if i == j || guesses[i].cause != "resized" || guesses[j].cause != "resized" {
				continue
			}
			for _, p := range a.ends {
				for _, q := range b.ends {
					if p.axis != q.axis || p.moved != q.moved || p.sign != 1 || q.sign != -1 || !facing(a.box, b.box, p.axis) {
						continue
					}
					g := guessed("moved", Detail{"dx": p.moved, "dy": 0})
					if p.axis == "y" {
						g = guessed("moved", Detail{"dx": 0, "dy": p.moved})
					}
					for k, o := range list { // ends between the two went along
						if guesses[k].cause == "resized" && facing(a.box, o.box, p.axis) && goes(o, p.axis, p.moved) {
							guesses[k] = g
						}
					}
					guesses[i], guesses[j] = g, g
				}
			}
		}
	}
}

func goes(r *region, axis string, moved int) bool {
	for _, e := range r.ends {
		if e.axis == axis && e.moved == moved {
			return true
		}
	}
	return false
}

// facing reports whether two ends share their extent across the axis.
func facing(a, b image.Rectangle, axis string) bool {
	if axis == "x" {
		return a.Min.Y == b.Min.Y && a.Max.Y == b.Max.Y
	}
	return a.Min.X == b.Min.X && a.Max.X == b.Max.X
}
