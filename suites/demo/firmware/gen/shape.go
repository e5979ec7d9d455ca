package main

import "math"

// A shape says whether a point lies inside. Icons are small, so trying 8x8 points a pixel is
// fast enough and spares us a path library; union and difference become one-liners.
type shape func(x, y float64) bool

func union(s ...shape) shape {
	return func(x, y float64) bool {
		for _, f := range s {
			if f(x, y) {
				return true
			}
		}
		return false
	}
}

func minus(a shape, b ...shape) shape {
	cut := union(b...)
	return func(x, y float64) bool { return a(x, y) && !cut(x, y) }
}

func both(a, b shape) shape {
	return func(x, y float64) bool { return a(x, y) && b(x, y) }
}

func disc(cx, cy, r float64) shape {
	return func(x, y float64) bool { return math.Hypot(x-cx, y-cy) <= r }
}

func ring(cx, cy, r, w float64) shape {
	return minus(disc(cx, cy, r+w/2), disc(cx, cy, r-w/2))
}

func box(x0, y0, x1, y1, r float64) shape {
	return func(x, y float64) bool {
		dx := math.Max(math.Max(x0+r-x, x-(x1-r)), 0)
		dy := math.Max(math.Max(y0+r-y, y-(y1-r)), 0)
		return math.Hypot(dx, dy) <= r && x >= x0 && x <= x1 && y >= y0 && y <= y1
	}
}

// frame is the outline of a box, w wide, inside its edge.
func frame(x0, y0, x1, y1, r, w float64) shape {
	return minus(box(x0, y0, x1, y1, r), box(x0+w, y0+w, x1-w, y1-w, math.Max(r-w, 0)))
}

// stroke is a polyline with round ends: x0, y0, x1, y1, ...
func stroke(w float64, p ...float64) shape {
	return func(x, y float64) bool {
		for i := 0; i+3 < len(p); i += 2 {
			if toSegment(x, y, p[i], p[i+1], p[i+2], p[i+3]) <= w/2 {
				return true
			}
		}
		return false
	}
}

func toSegment(x, y, ax, ay, bx, by float64) float64 {
	dx, dy := bx-ax, by-ay
	t := ((x-ax)*dx + (y-ay)*dy) / math.Max(dx*dx+dy*dy, 1e-9)
	t = math.Max(0, math.Min(1, t))
	return math.Hypot(x-ax-t*dx, y-ay-t*dy)
}

// fill is a closed polygon, even-odd.
func fill(p ...float64) shape {
	return func(x, y float64) bool {
		in := false
		n := len(p) / 2
		for i, j := 0, n-1; i < n; j, i = i, i+1 {
			xi, yi, xj, yj := p[2*i], p[2*i+1], p[2*j], p[2*j+1]
			if (yi > y) != (yj > y) && x < (xj-xi)*(y-yi)/(yj-yi)+xi {
				in = !in
			}
		}
		return in
	}
}

// curve flattens cubic Bezier pieces: a start point, then three points a piece.
func curve(p ...float64) []float64 {
	out := []float64{p[0], p[1]}
	for i := 0; i+7 < len(p); i += 6 {
		for s := 1; s <= 16; s++ {
			t := float64(s) / 16
			u := 1 - t
			a, b, c, d := u*u*u, 3*u*u*t, 3*u*t*t, t*t*t
			out = append(out,
				a*p[i]+b*p[i+2]+c*p[i+4]+d*p[i+6],
				a*p[i+1]+b*p[i+3]+c*p[i+5]+d*p[i+7])
		}
	}
	return out
}

// turned rotates a shape about a centre, in degrees clockwise on the panel.
func turned(s shape, cx, cy, degrees float64) shape {
	sin, cos := math.Sincos(-degrees * math.Pi / 180)
	return func(x, y float64) bool {
		dx, dy := x-cx, y-cy
		return s(cx+dx*cos-dy*sin, cy+dx*sin+dy*cos)
	}
}

// rasterise gives the 4-bit alpha of a shape drawn on a grid x grid canvas at size pixels.
func rasterise(s shape, grid float64, size int) []uint8 {
	const n = 8
	out := make([]uint8, size*size)
	scale := grid / float64(size)
	for py := range size {
		for px := range size {
			hits := 0
			for i := range n * n {
				x := (float64(px) + (float64(i%n)+0.5)/n) * scale
				y := (float64(py) + (float64(i/n)+0.5)/n) * scale
				if s(x, y) {
					hits++
				}
			}
			out[py*size+px] = uint8((hits*15 + n*n/2) / (n * n))
		}
	}
	return out
}
