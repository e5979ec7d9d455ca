package rectify

import "math"

// refine moves p to the crossing of two edges near it: the point to which every gradient in
// the window stands at right angles (Förstner and Gülch 1987), weighted towards the middle. radius is the
// window's half width in photo pixels. It reports false where it finds no crossing within the window.
func (p *plane) refine(at Point, radius float64) (Point, bool) {
	start := at
	n := int(math.Ceil(radius))
	for range 30 {
		if at.X < float64(n)+2 || at.Y < float64(n)+2 || at.X > float64(p.w-n)-3 || at.Y > float64(p.h-n)-3 {
			return at, false
		}
		var a, b, c, u, v float64
		for j := -n; j <= n; j++ {
			for i := -n; i <= n; i++ {
				dx, dy := float64(i), float64(j)
				w := math.Exp(-(dx*dx + dy*dy) / (radius * radius))
				q := Point{at.X + dx, at.Y + dy}
				gx := p.at(Point{q.X + 1, q.Y}) - p.at(Point{q.X - 1, q.Y})
				gy := p.at(Point{q.X, q.Y + 1}) - p.at(Point{q.X, q.Y - 1})
				xx, xy, yy := w*gx*gx, w*gx*gy, w*gy*gy
				a, b, c = a+xx, b+xy, c+yy
				u, v = u+xx*dx+xy*dy, v+xy*dx+yy*dy
			}
		}
		det := a*c - b*b
		if det <= 1e-4*(a+c)*(a+c) || math.IsNaN(det) { // one edge only, or none
			return at, false
		}
		mx, my := (c*u-b*v)/det, (a*v-b*u)/det
		at = Point{at.X + mx, at.Y + my}
		if at.Sub(start).Norm() > radius*1.5 {
			return at, false
		}
		if math.Hypot(mx, my) < 1e-3 {
			return at, true
		}
	}
	return at, true
}
