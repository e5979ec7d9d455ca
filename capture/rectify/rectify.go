// Package rectify finds where a panel stands in a photo and brings photos back to panel pixels.
//
// A Geometry maps panel points to photo points: a homography, then the Brown-Conrady lens.
// Locate fits it to photos of the panel's own test patterns; a Sampler resamples a photo
// on the panel's grid, in linear light, by Gaussian weights, through tables that are made once.
//
// Pixel centres lie on whole numbers in both coordinates, so that a panel of W x H pixels spans
// -0.5 to W-0.5. Nothing is said here about what a picture should look like: see compare/photo.
package rectify

import (
	"fmt"
	"math"
)

// A Point is a place on the panel or on a photo.
type Point struct{ X, Y float64 }

// Sub returns p-q.
func (p Point) Sub(q Point) Point { return Point{p.X - q.X, p.Y - q.Y} }

// Norm is the length of p.
func (p Point) Norm() float64 { return math.Hypot(p.X, p.Y) }

// A Lens is the Brown-Conrady model on normalised coordinates (Brown 1966, Conrady 1919):
// x_d = x(1+K1 r^2+K2 r^4+K3 r^6) + 2 P1 x y + P2 (r^2+2x^2), and y_d alike with P1 and P2 exchanged.
type Lens struct{ K1, K2, P1, P2, K3 float64 }

// Distort maps where a pinhole would see a point to where the lens shows it.
func (l Lens) Distort(p Point) Point {
	r := p.X*p.X + p.Y*p.Y
	k := 1 + r*(l.K1+r*(l.K2+r*l.K3))
	return Point{
		p.X*k + 2*l.P1*p.X*p.Y + l.P2*(r+2*p.X*p.X),
		p.Y*k + l.P1*(r+2*p.Y*p.Y) + 2*l.P2*p.X*p.Y,
	}
}

// Undistort inverts Distort by Newton's method. It reports false where the lens folds the plane, so
// that there is no point to be found.
func (l Lens) Undistort(q Point) (Point, bool) {
	p := q
	for range 40 {
		d := l.Distort(p)
		e := q.Sub(d)
		if e.Norm() < 1e-13 {
			return p, true
		}
		const h = 1e-6
		dx, dy := l.Distort(Point{p.X + h, p.Y}).Sub(d), l.Distort(Point{p.X, p.Y + h}).Sub(d)
		a, b, c, f := dx.X/h, dy.X/h, dx.Y/h, dy.Y/h
		det := a*f - b*c
		if det < 0.05 {
			return p, false
		}
		p.X += (e.X*f - e.Y*b) / det
		p.Y += (e.Y*a - e.X*c) / det
	}
	return p, l.Distort(p).Sub(q).Norm() < 1e-9
}

// A Geometry maps panel points to photo points. The homography leads to coordinates that are
// centred on the photo and divided by its longer side; the lens is stated in those. With one plane in
// view, focal length and lens strength can't be told apart, and needn't be.
type Geometry struct {
	Panel, Photo [2]int // width, height
	Plane        Homography
	Lens         Lens
}

func (g *Geometry) scale() float64 { return float64(max(g.Photo[0], g.Photo[1])) }

// ToPhoto maps a panel point to the photo.
func (g *Geometry) ToPhoto(p Point) Point {
	d := g.Lens.Distort(g.Plane.Map(p))
	return Point{d.X*g.scale() + float64(g.Photo[0]-1)/2, d.Y*g.scale() + float64(g.Photo[1]-1)/2}
}

// normal brings a photo point into the lens's coordinates.
func (g *Geometry) normal(q Point) Point {
	return Point{(q.X - float64(g.Photo[0]-1)/2) / g.scale(), (q.Y - float64(g.Photo[1]-1)/2) / g.scale()}
}

// ToPanel maps a photo point to the panel's plane; false where the lens has no inverse.
func (g *Geometry) ToPanel(q Point) (Point, bool) {
	p, ok := g.Lens.Undistort(g.normal(q))
	if !ok {
		return Point{}, false
	}
	inv, err := g.Plane.Inverse()
	if err != nil {
		return Point{}, false
	}
	return inv.Map(p), true
}

// Jacobian gives the photo's movement for one panel pixel to the right and for one down.
func (g *Geometry) Jacobian(p Point) (right, down Point) {
	const h = 0.5
	return g.ToPhoto(Point{p.X + h, p.Y}).Sub(g.ToPhoto(Point{p.X - h, p.Y})),
		g.ToPhoto(Point{p.X, p.Y + h}).Sub(g.ToPhoto(Point{p.X, p.Y - h}))
}

// Ratio is the number of photo pixels a panel pixel, along one side: the least and the mean over
// the panel.
func (g *Geometry) Ratio() (least, mean float64) {
	least = math.Inf(1)
	n := 0
	for j := range 9 {
		for i := range 9 {
			r, d := g.Jacobian(Point{float64(i) / 8 * float64(g.Panel[0]-1), float64(j) / 8 * float64(g.Panel[1]-1)})
			least = min(least, r.Norm(), d.Norm())
			mean += math.Sqrt(math.Abs(r.X*d.Y - r.Y*d.X))
			n++
		}
	}
	return least, mean / float64(n)
}

// Valid reports whether a Geometry, perhaps read from a file, can be worked with.
func (g *Geometry) Valid() error {
	for _, n := range []int{g.Panel[0], g.Panel[1], g.Photo[0], g.Photo[1]} {
		if n < 8 || n > 16384 {
			return fmt.Errorf("sizes %v and %v: a side is between 8 and 16384 px", g.Panel, g.Photo)
		}
	}
	for j := range 5 {
		for i := range 5 {
			q := g.ToPhoto(Point{float64(i) / 4 * float64(g.Panel[0]-1), float64(j) / 4 * float64(g.Panel[1]-1)})
			if !(math.Abs(q.X) < 1e5 && math.Abs(q.Y) < 1e5) {
				return fmt.Errorf("the geometry leads panel points nowhere")
			}
		}
	}
	return nil
}
