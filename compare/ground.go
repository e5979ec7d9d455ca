package compare

import (
	"image"
	"math"
	"slices"
)

// ground models what lies behind the content near a box: one colour, or colours that
// run evenly in x and y.
type ground struct {
	flat   bool
	colour uint32
	// also are further colours that make up a good part of the surroundings, when the box
	// lies across the border of two grounds.
	also []uint32
	// common lists the colours that may become so.
	common []uint32
	// plane[k] holds value, slope in x and slope in y of channel k (red, green, blue).
	plane [3][3]float64
	// sure is false when what surrounds the box is neither.
	sure bool
}

// gradientSlack allows for the steps of a gradient in 5 bits a channel.
const gradientSlack = 10

// is reports whether colour c at x, y is ground.
func (g *ground) is(c uint32, x, y int) bool {
	if g.flat {
		if c == g.colour {
			return true
		}
		for _, a := range g.also {
			if c == a {
				return true
			}
		}
		return false
	}
	for k, shift := range [3]int{16, 8, 0} {
		q := g.plane[k]
		if math.Abs(q[0]+q[1]*float64(x)+q[2]*float64(y)-float64(c>>shift&0xff)) > gradientSlack {
			return false
		}
	}
	return true
}

// at is the ground's colour at a place.
func (g *ground) at(x, y int) uint32 {
	if g.flat {
		return g.colour
	}
	var c uint32
	for k, shift := range [3]int{16, 8, 0} {
		q := g.plane[k]
		v := math.Round(q[0] + q[1]*float64(x) + q[2]*float64(y))
		c |= uint32(math.Max(0, math.Min(255, v))) << shift
	}
	return c
}

// groundAround looks at the unchanged pixels in a frame of 3 px around the box.
func (p *pair) groundAround(b image.Rectangle) ground {
	var at []image.Point
	outer := b.Inset(-3).Intersect(image.Rect(0, 0, p.w, p.h))
	for y := outer.Min.Y; y < outer.Max.Y; y++ {
		for x := outer.Min.X; x < outer.Max.X; x++ {
			if y >= b.Min.Y && y < b.Max.Y && x >= b.Min.X && x < b.Max.X {
				x = b.Max.X - 1
				continue
			}
			if !p.diff[y*p.w+x] {
				at = append(at, image.Pt(x, y))
			}
		}
	}
	if len(at) == 0 { // the box is the panel
		step := strideFor(b)
		for y := b.Min.Y; y < b.Max.Y; y += step {
			for x := b.Min.X; x < b.Max.X; x += step {
				at = append(at, image.Pt(x, y))
			}
		}
	}
	if n := len(at); n > maxSample {
		for k := range maxSample {
			at[k] = at[k*n/maxSample]
		}
		at = at[:maxSample]
	}
	count := map[uint32]int{}
	for _, q := range at {
		count[p.g.px[q.Y*p.w+q.X]]++
	}
	g := ground{flat: true}
	most := 0
	for c, n := range count {
		if n > most || n == most && c < g.colour {
			g.colour, most = c, n
		}
	}
	for c, n := range count {
		if c != g.colour && n*8 >= len(at) {
			g.common = append(g.common, c)
		}
	}
	slices.Sort(g.common)
	if most*2 >= len(at) {
		g.sure = true
		return g
	}
	if q, ok := p.fitGround(at); ok {
		return q
	}
	return g
}

// strideFor is the step in x and y that leaves about maxSample pixels of a box.
func strideFor(b image.Rectangle) int {
	return max(1, int(math.Sqrt(float64(b.Dx()*b.Dy())/maxSample)))
}

// fitGround fits a plane to each channel by least squares, twice, the second time
// without the pixels that lie off the first.
func (p *pair) fitGround(at []image.Point) (ground, bool) {
	g := ground{sure: true}
	keep := at
	for range 3 {
		if len(keep) < 12 {
			return g, false
		}
		for k, shift := range [3]int{16, 8, 0} {
			g.plane[k] = fitPlane(keep, func(q image.Point) float64 { return float64(p.g.px[q.Y*p.w+q.X] >> shift & 0xff) })
		}
		var in []image.Point
		for _, q := range at {
			if g.is(p.g.px[q.Y*p.w+q.X], q.X, q.Y) {
				in = append(in, q)
			}
		}
		keep = in
	}
	return g, len(keep)*10 >= len(at)*6
}

// fitPlane gives value, slope in x and slope in y of the least-squares plane.
func fitPlane(at []image.Point, f func(image.Point) float64) [3]float64 {
	var n, sx, sy, sv, sxx, syy, sxy, sxv, syv float64
	for _, q := range at {
		x, y, v := float64(q.X), float64(q.Y), f(q)
		n, sx, sy, sv = n+1, sx+x, sy+y, sv+v
		sxx, syy, sxy, sxv, syv = sxx+x*x, syy+y*y, sxy+x*y, sxv+x*v, syv+y*v
	}
	mx, my, mv := sx/n, sy/n, sv/n
	cxx, cyy, cxy, cxv, cyv := sxx-n*mx*mx, syy-n*my*my, sxy-n*mx*my, sxv-n*mx*mv, syv-n*my*mv
	var a, b float64
	if det := cxx*cyy - cxy*cxy; det > 1e-9*cxx*cyy {
		a, b = (cxv*cyy-cyv*cxy)/det, (cyv*cxx-cxv*cxy)/det
	} else if cxx > 0 {
		a = cxv / cxx
	} else if cyy > 0 {
		b = cyv / cyy
	}
	return [3]float64{mv - a*mx - b*my, a, b}
}
