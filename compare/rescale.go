package compare

import (
	"fmt"
	"math"
)

// plane is a picture of luma at reduced size.
type plane struct {
	w, h int
	v    []float64
}

// shrunk averages squares of n x n pixels.
func shrunk(m *picture, n int) plane {
	p := plane{w: max(1, m.w/n), h: max(1, m.h/n)}
	p.v = make([]float64, p.w*p.h)
	for y := range p.h {
		for x := range p.w {
			sum, k := 0, 0
			for j := y * n; j < min(m.h, y*n+n); j++ {
				for i := x * n; i < min(m.w, x*n+n); i++ {
					sum += int(luma(m.px[j*m.w+i]))
					k++
				}
			}
			p.v[y*p.w+x] = float64(sum) / float64(k)
		}
	}
	return p
}

// at samples between pixels; ok is false off the plane.
func (p plane) at(x, y float64) (v float64, ok bool) {
	if x < -0.5 || y < -0.5 || x > float64(p.w)-0.5 || y > float64(p.h)-0.5 {
		return 0, false
	}
	x, y = math.Max(0, math.Min(float64(p.w-1), x)), math.Max(0, math.Min(float64(p.h-1), y))
	x0, y0 := int(x), int(y)
	x1, y1 := min(p.w-1, x0+1), min(p.h-1, y0+1)
	fx, fy := x-float64(x0), y-float64(y0)
	a := p.v[y0*p.w+x0]*(1-fx) + p.v[y0*p.w+x1]*fx
	b := p.v[y1*p.w+x0]*(1-fx) + p.v[y1*p.w+x1]*fx
	return a*(1-fy) + b*fy, true
}

// likeness is the correlation of b with a scaled by sx, sy about the point cx, cy (a
// share of the plane), over the pixels that come from a. covered is their share.
func likeness(a, b plane, sx, sy, cx, cy float64) (r, covered float64) {
	var n, s1, s2, s11, s22, s12 float64
	ox, oy := cx*float64(b.w), cy*float64(b.h)
	for y := range b.h {
		for x := range b.w {
			v, ok := a.at((float64(x)+0.5-ox)/sx+ox-0.5, (float64(y)+0.5-oy)/sy+oy-0.5)
			if !ok {
				continue
			}
			u := b.v[y*b.w+x]
			n++
			s1, s2, s11, s22, s12 = s1+v, s2+u, s11+v*v, s22+u*u, s12+v*u
		}
	}
	if n == 0 {
		return 0, 0
	}
	va, vb := s11-s1*s1/n, s22-s2*s2/n
	if va < n || vb < n { // flat: nothing to liken
		return 0, n / float64(len(b.v))
	}
	return (s12 - s1*s2/n) / math.Sqrt(va*vb), n / float64(len(b.v))
}

// nearlyAlike is a likeness of the unscaled pictures above which no other scale can be shown to fit
// better: what it would have to gain is less than what sampling between pixels loses.
const nearlyAlike = 0.985

// rescaled: the same content at another scale on a panel of the same size, about the top
// left corner or the centre.
func (p *pair) rescaled() (fault, bool) {
	coarse := max(1, max(p.w, p.h)/40)
	fine := max(1, max(p.w, p.h)/110)
	gf, cf := shrunk(p.g, fine), shrunk(p.c, fine)
	same, _ := likeness(gf, cf, 1, 1, 0, 0)
	if same > nearlyAlike {
		return fault{}, false
	}
	ga, ca := shrunk(p.g, coarse), shrunk(p.c, coarse)
	type guess struct{ s, c, r float64 }
	var top []guess
	for _, c := range []float64{0, 0.5} {
		best := guess{}
		for s := 0.3; s < 3.4; s *= 1.03 {
			if s > 0.95 && s < 1.05 {
				continue
			}
			if r, cov := likeness(ga, ca, s, s, c, c); r > best.r && cov*s*s >= 0.05 {
				best = guess{s, c, r}
			}
		}
		if best.r > 0.5 {
			top = append(top, best)
		}
	}
	if len(top) == 0 {
		return fault{}, false
	}
	best := guess{}
	for _, t := range top {
		for step := 0.02; step > 0.001; step /= 2 {
			at := guess{}
			for k := -2.0; k <= 2; k++ {
				s := t.s * (1 + k*step)
				if r, _ := likeness(gf, cf, s, s, t.c, t.c); r > at.r {
					at = guess{s, t.c, r}
				}
			}
			if at.r > 0 {
				t = at
			}
		}
		if t.r > best.r {
			best = t
		}
	}
	if best.r < 0.85 || 1-best.r > 0.4*(1-same) || stayed(gf, cf, best.s, best.c) {
		return fault{}, false
	}
	return fault{cause: whole("rescaled", Detail{"scale": round3(best.s)})}, true
}

// stayed reports whether most of what a scale about the point c, c (a share of the plane) would have changed stands as
// it stood: a gradient is like itself at any scale.
func stayed(g, c plane, scale, about float64) bool {
	due, still := 0, 0
	ox, oy := about*float64(c.w), about*float64(c.h)
	for y := range c.h {
		for x := range c.w {
			i := y*c.w + x
			v, ok := g.at((float64(x)+0.5-ox)/scale+ox-0.5, (float64(y)+0.5-oy)/scale+oy-0.5)
			if !ok || math.Abs(v-g.v[i]) < 16 {
				continue
			}
			due++
			if math.Abs(c.v[i]-g.v[i]) < 2 {
				still++
			}
		}
	}
	return still*2 > due
}

// explainSizes names why two pictures have different sizes.
func explainSizes(g, c *picture) []Cause {
	sizes := fmt.Sprintf(" The capture is %dx%d, the golden %dx%d.", c.w, c.h, g.w, g.h)
	out := explainOtherSize(g, c)
	out.Says += sizes
	return []Cause{out}
}

func explainOtherSize(g, c *picture) Cause {
	if len(g.px) == 0 || len(c.px) == 0 {
		return cause("other", 1, Detail{})
	}
	if g.w == c.h && g.h == c.w {
		if f, ok := turnedOver(g, c); ok {
			return f
		}
	}
	sx, sy := float64(c.w)/float64(g.w), float64(c.h)/float64(g.h)
	// One pixel of rounding either way.
	if math.Abs(sx-sy)*math.Min(float64(g.w), float64(g.h)) > 2 {
		return cause("other", 0.6, Detail{})
	}
	r := scaledLikeness(g, c)
	if r < 0.8 {
		return cause("other", 0.6, Detail{})
	}
	out := whole("rescaled", Detail{"scale": round3(math.Sqrt(sx * sy))})
	return out
}

// scaledLikeness brings both pictures to one small size and correlates them.
func scaledLikeness(g, c *picture) float64 {
	n := 64
	a, b := sampled(g, n), sampled(c, n)
	r, _ := likeness(a, b, 1, 1, 0, 0)
	if r == 0 && flat(a) && flat(b) && math.Abs(a.v[0]-b.v[0]) < 8 {
		return 1
	}
	return r
}

func flat(p plane) bool {
	for _, v := range p.v {
		if math.Abs(v-p.v[0]) > 2 {
			return false
		}
	}
	return true
}

// sampled averages a picture down to n x n fields, whatever its size.
func sampled(m *picture, n int) plane {
	p := plane{w: n, h: n, v: make([]float64, n*n)}
	for y := range n {
		for x := range n {
			x0, x1 := x*m.w/n, max(x*m.w/n+1, (x+1)*m.w/n)
			y0, y1 := y*m.h/n, max(y*m.h/n+1, (y+1)*m.h/n)
			sum := 0
			for j := y0; j < y1; j++ {
				for i := x0; i < x1; i++ {
					sum += int(luma(m.px[j*m.w+i]))
				}
			}
			p.v[y*n+x] = float64(sum) / float64((x1-x0)*(y1-y0))
		}
	}
	return p
}

// turnedOver: the panel's sides are exchanged, and a quarter turn explains it, alone or
// with a change of colours.
func turnedOver(g, c *picture) (Cause, bool) {
	p := &pair{w: c.w, h: c.h, g: &picture{w: c.w, h: c.h, px: g.px}, c: c, turned: true}
	p.codes()
	p.changed, p.changed16 = len(c.px), len(c.px)
	p.diff = make([]bool, len(c.px))
	colours := p.likelyColours(p.g16)
	var found []hypothesis
	exact := false
	for _, f := range colours {
		for _, t := range p.turnsFor() {
			if left, ok := p.holdsTurned(t, f); ok {
				found = append(found, hypothesis{turn: t, colour: f, left: left})
				exact = exact || left == 0
			}
		}
	}
	if !exact {
		found = append(found, p.shifts(colours)...)
	}
	if len(found) == 0 {
		return Cause{}, false
	}
	return p.choose(found).cause, true
}

// holdsTurned is holds for pictures of exchanged sides, where no pixel can refuse.
func (p *pair) holdsTurned(t turn, f colourFault) (left int, ok bool) {
	v := laid(p.g16, p.w, p.h, t, f.apply)
	for i, c := range p.c16 {
		if v[i] != c {
			left++
		}
	}
	return left, left*10 <= len(v)
}
