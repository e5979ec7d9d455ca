package rectify

import (
	"errors"
	"math"
	"math/rand/v2"
)

// A Homography maps a plane to a plane, row by row, scaled so that the last entry is 1.
type Homography [9]float64

// ErrDegenerate means that points do not determine a homography: too few of them, or too
// many on one line.
var ErrDegenerate = errors.New("the points do not determine a homography: four are needed, no three of them on a line")

// Map maps a point.
func (h *Homography) Map(p Point) Point {
	w := h[6]*p.X + h[7]*p.Y + h[8]
	return Point{(h[0]*p.X + h[1]*p.Y + h[2]) / w, (h[3]*p.X + h[4]*p.Y + h[5]) / w}
}

// Inverse returns the way back.
func (h *Homography) Inverse() (Homography, error) {
	m := Homography{
		h[4]*h[8] - h[5]*h[7], h[2]*h[7] - h[1]*h[8], h[1]*h[5] - h[2]*h[4],
		h[5]*h[6] - h[3]*h[8], h[0]*h[8] - h[2]*h[6], h[2]*h[3] - h[0]*h[5],
		h[3]*h[7] - h[4]*h[6], h[1]*h[6] - h[0]*h[7], h[0]*h[4] - h[1]*h[3],
	}
	det := h[0]*m[0] + h[1]*m[3] + h[2]*m[6]
	if det == 0 || math.IsNaN(det) || m[8] == 0 {
		return m, ErrDegenerate
	}
	return m.scaled(), nil
}

func (h Homography) scaled() Homography {
	s := 1 / h[8]
	for i := range h {
		h[i] *= s
	}
	return h
}

func mul(a, b Homography) (c Homography) {
	for i := range 3 {
		for j := range 3 {
			for k := range 3 {
				c[3*i+j] += a[3*i+k] * b[3*k+j]
			}
		}
	}
	return c
}

// normalise moves the centroid to the origin and the mean distance to sqrt 2 (Hartley and
// Zisserman, algorithm 4.2).
func normalise(ps []Point) (to Homography, out []Point, ok bool) {
	var cx, cy, d float64
	n := float64(len(ps))
	for _, p := range ps {
		cx, cy = cx+p.X/n, cy+p.Y/n
	}
	for _, p := range ps {
		d += math.Hypot(p.X-cx, p.Y-cy) / n
	}
	if !(d > 0) || math.IsInf(d, 0) {
		return to, nil, false
	}
	s := math.Sqrt2 / d
	to = Homography{s, 0, -s * cx, 0, s, -s * cy, 0, 0, 1}
	for _, p := range ps {
		out = append(out, to.Map(p))
	}
	return to, out, true
}

// direct is the normalised direct linear transformation with the last entry set to one in
// normalised coordinates, where it can't vanish for points that a camera sees.
func direct(from, to []Point) (Homography, error) {
	if len(from) < 4 || len(from) != len(to) {
		return Homography{}, ErrDegenerate
	}
	tf, f, ok1 := normalise(from)
	tt, t, ok2 := normalise(to)
	if !ok1 || !ok2 {
		return Homography{}, ErrDegenerate
	}
	var a [8][9]float64
	for i := range f {
		x, y, u, v := f[i].X, f[i].Y, t[i].X, t[i].Y
		rows := [2][9]float64{{x, y, 1, 0, 0, 0, -u * x, -u * y, u}, {0, 0, 0, x, y, 1, -v * x, -v * y, v}}
		if len(f) == 4 { // exact: squaring the equations would cost half of the digits
			a[2*i], a[2*i+1] = rows[0], rows[1]
			continue
		}
		for _, r := range rows {
			for j := range 8 {
				for k := range 9 {
					a[j][k] += r[j] * r[k]
				}
			}
		}
	}
	m := make([][]float64, 8)
	for i := range m {
		m[i] = a[i][:]
	}
	s, ok := Solve(m)
	if !ok {
		return Homography{}, ErrDegenerate
	}
	h := Homography{s[0], s[1], s[2], s[3], s[4], s[5], s[6], s[7], 1}
	// In normalised coordinates a camera's view has a determinant near one; that of points on a line vanishes.
	if d := h[0]*(h[4]*h[8]-h[5]*h[7]) - h[1]*(h[3]*h[8]-h[5]*h[6]) + h[2]*(h[3]*h[7]-h[4]*h[6]); !(math.Abs(d) > 1e-6) {
		return h, ErrDegenerate
	}
	back, err := tt.Inverse()
	if err != nil {
		return h, err
	}
	h = mul(mul(back, h), tf)
	if h[8] == 0 {
		return h, ErrDegenerate
	}
	return h.scaled(), nil
}

// Solve solves a system given as rows of coefficients with the right side last, by elimination with
// row exchange. It reports false where the system is singular.
func Solve(a [][]float64) ([]float64, bool) {
	n := len(a)
	for i := range n {
		p := i
		for j := i + 1; j < n; j++ {
			if math.Abs(a[j][i]) > math.Abs(a[p][i]) {
				p = j
			}
		}
		a[i], a[p] = a[p], a[i]
		if !(math.Abs(a[i][i]) > 1e-11) {
			return nil, false
		}
		for j := i + 1; j < n; j++ {
			f := a[j][i] / a[i][i]
			for k := i; k <= n; k++ {
				a[j][k] -= f * a[i][k]
			}
		}
	}
	x := make([]float64, n)
	for i := n - 1; i >= 0; i-- {
		s := a[i][n]
		for k := i + 1; k < n; k++ {
			s -= a[i][k] * x[k]
		}
		x[i] = s / a[i][i]
	}
	return x, true
}

// FitHomography finds the homography from points to points with the least squared distance
// at the far end. ErrDegenerate tells of points that determine none.
func FitHomography(from, to []Point) (Homography, error) {
	h, err := direct(from, to)
	if err != nil || len(from) == 4 {
		return h, err
	}
	tf, f, _ := normalise(from)
	tt, t, _ := normalise(to)
	back, err := tt.Inverse()
	if err != nil {
		return h, err
	}
	fback, err := tf.Inverse()
	if err != nil {
		return h, err
	}
	n := mul(mul(tt, h), fback).scaled()
	p := n[:8]
	minimise(p, 2*len(f), 0, func(p, r []float64) {
		m := Homography{p[0], p[1], p[2], p[3], p[4], p[5], p[6], p[7], 1}
		for i := range f {
			q := m.Map(f[i])
			r[2*i], r[2*i+1] = q.X-t[i].X, q.Y-t[i].Y
		}
	})
	return mul(mul(back, Homography{p[0], p[1], p[2], p[3], p[4], p[5], p[6], p[7], 1}), tf).scaled(), nil
}

// FitHomographyRobust finds the homography that most of the points agree with to within
// limit, and the indices of those (random sample consensus, Fischler and Bolles 1981).
func FitHomographyRobust(from, to []Point, limit float64) (Homography, []int, error) {
	rnd := rand.New(rand.NewPCG(1, 2)) // the same answer every time
	var best []int
	for range 500 {
		if len(from) < 4 || len(from) != len(to) {
			break
		}
		var f, t []Point
		for _, i := range rnd.Perm(len(from))[:4] {
			f, t = append(f, from[i]), append(t, to[i])
		}
		h, err := direct(f, t)
		if err != nil {
			continue
		}
		if in := agreeing(h, from, to, limit); len(in) > len(best) {
			best = in
		}
	}
	for range 3 {
		var f, t []Point
		for _, i := range best {
			f, t = append(f, from[i]), append(t, to[i])
		}
		h, err := FitHomography(f, t)
		if err != nil {
			return h, nil, err
		}
		in := agreeing(h, from, to, limit)
		if len(in) == len(best) {
			return h, in, nil
		}
		best = in
	}
	return Homography{}, nil, ErrDegenerate
}

func agreeing(h Homography, from, to []Point, limit float64) (in []int) {
	for i := range from {
		if h.Map(from[i]).Sub(to[i]).Norm() <= limit {
			in = append(in, i)
		}
	}
	return in
}
