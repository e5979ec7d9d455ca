package rectify

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
)

// ErrNoPanel means that the lit panel was not found in the photos.
var ErrNoPanel = errors.New("no lit panel in the photos")

// coarse is by how many photo pixels the search for the outline steps.
const coarse = 4

// outline finds the panel's four sides in the difference of a white and a black photo, and
// returns the corners in order round the panel. The corners are rough: the lens bends the sides.
// A covered corner does no harm as long as each side shows over half of its length.
func outline(white, black *plane) ([4]Point, error) {
	w, h := white.w/coarse, white.h/coarse
	d := make([]float64, w*h)
	for y := range h {
		for x := range w {
			for j := range coarse {
				for i := range coarse {
					k := (y*coarse+j)*white.w + x*coarse + i
					d[y*w+x] += float64(white.pix[k]-black.pix[k]) / (coarse * coarse)
				}
			}
		}
	}
	s := append([]float64(nil), d...)
	sort.Float64s(s)
	bright := s[len(s)-len(s)/50] // a panel takes more than a fiftieth of its photo
	if bright < 20 {
		return [4]Point{}, fmt.Errorf("%w: white is only %.0f of 255 levels brighter than black", ErrNoPanel, bright)
	}
	in := largest(d, w, h, bright*0.4)
	var edge []Point
	for y := range h {
		for x := range w {
			if !in[y*w+x] {
				continue
			}
			for _, n := range [][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
				i, j := x+n[0], y+n[1]
				if i < 0 || j < 0 || i >= w || j >= h {
					return [4]Point{}, fmt.Errorf("%w: the panel reaches the photo's edge, so that not all of it is seen", ErrNoPanel)
				}
				if !in[j*w+i] {
					edge = append(edge, Point{(float64(x)+0.5)*coarse - 0.5, (float64(y)+0.5)*coarse - 0.5})
					break
				}
			}
		}
	}
	return sides(edge)
}

// largest marks the largest connected area above a level.
func largest(d []float64, w, h int, level float64) []bool {
	label := make([]int, len(d))
	best, size := 0, 0
	for i := range d {
		if d[i] < level || label[i] != 0 {
			continue
		}
		n, stack := 0, []int{i}
		label[i] = i + 1
		for len(stack) > 0 {
			k := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			n++
			x, y := k%w, k/w
			for _, q := range [][2]int{{x + 1, y}, {x - 1, y}, {x, y + 1}, {x, y - 1}} {
				if q[0] < 0 || q[1] < 0 || q[0] >= w || q[1] >= h {
					continue
				}
				if m := q[1]*w + q[0]; d[m] >= level && label[m] == 0 {
					label[m] = i + 1
					stack = append(stack, m)
				}
			}
		}
		if n > size {
			best, size = i+1, n
		}
	}
	in := make([]bool, len(d))
	for i := range in {
		in[i] = label[i] == best && best != 0
	}
	return in
}

// A line is where a*x + b*y = c, with a*a + b*b = 1.
type line struct{ a, b, c float64 }

// sides finds the four straight lines that most points of an outline lie on, and their crossings.
func sides(edge []Point) ([4]Point, error) {
	var none [4]Point
	if len(edge) < 40 {
		return none, fmt.Errorf("%w: the lit area is too small", ErrNoPanel)
	}
	var mid Point
	for _, p := range edge {
		mid.X, mid.Y = mid.X+p.X/float64(len(edge)), mid.Y+p.Y/float64(len(edge))
	}
	rnd := rand.New(rand.NewPCG(3, 4))
	const near = 2.5 * coarse // the lens bends a side by up to some such distance
	rest := edge
	var found []line
	for len(found) < 4 && len(rest) > 10 {
		var best line
		most := 0
		for range 400 {
			p, q := rest[rnd.IntN(len(rest))], rest[rnd.IntN(len(rest))]
			d := q.Sub(p)
			if d.Norm() < 12*coarse {
				continue
			}
			l := line{-d.Y / d.Norm(), d.X / d.Norm(), 0}
			l.c = l.a*p.X + l.b*p.Y
			n := 0
			for _, e := range rest {
				if math.Abs(l.a*e.X+l.b*e.Y-l.c) < near {
					n++
				}
			}
			if n > most {
				best, most = l, n
			}
		}
		if most < 10 {
			break
		}
		var on, off []Point
		for _, e := range rest {
			if math.Abs(best.a*e.X+best.b*e.Y-best.c) < near {
				on = append(on, e)
			}
			if math.Abs(best.a*e.X+best.b*e.Y-best.c) >= 2*near {
				off = append(off, e)
			}
		}
		found, rest = append(found, fitLine(on)), off
	}
	if len(found) < 4 {
		return none, fmt.Errorf("%w: the lit area has not four straight sides; is something before the panel?", ErrNoPanel)
	}
	// Round the middle, by the direction of each side's foot.
	sort.Slice(found, func(i, j int) bool { return found[i].angle(mid) < found[j].angle(mid) })
	var out [4]Point
	for i := range 4 {
		l, m := found[i], found[(i+1)%4]
		det := l.a*m.b - l.b*m.a
		if math.Abs(det) < 0.3 {
			return none, fmt.Errorf("%w: the sides of the lit area do not make a rectangle; is something before the panel?", ErrNoPanel)
		}
		out[i] = Point{(l.c*m.b - l.b*m.c) / det, (l.a*m.c - l.c*m.a) / det}
	}
	return out, nil
}

func (l line) angle(from Point) float64 {
	d := l.c - l.a*from.X - l.b*from.Y
	return math.Atan2(d*l.b, d*l.a)
}

// fitLine fits a line by total least squares.
func fitLine(ps []Point) line {
	var mx, my, xx, xy, yy float64
	n := float64(len(ps))
	for _, p := range ps {
		mx, my = mx+p.X/n, my+p.Y/n
	}
	for _, p := range ps {
		dx, dy := p.X-mx, p.Y-my
		xx, xy, yy = xx+dx*dx, xy+dx*dy, yy+dy*dy
	}
	t := 0.5 * math.Atan2(2*xy, xx-yy)
	l := line{-math.Sin(t), math.Cos(t), 0}
	l.c = l.a*mx + l.b*my
	return l
}
