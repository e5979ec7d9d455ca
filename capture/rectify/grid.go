package rectify

import (
	"image"
	"image/color"
	"image/draw"
	"math"
)

// A Grid is the pattern that geometry is fitted to: fields of alternating black and white.
//
// One photo of it fixes every place at one moment. Codes spread over several photos, such as
// stripes of a Gray code, give a place for every pixel, but between photos a rig moves, by up to half a photo
// pixel, and that goes into the map: at two photo pixels a panel pixel it is the whole of the error
// allowed. The grid alone stays within a fifth of it, see TestLocateOnRandomRigs.
type Grid struct {
	Panel      [2]int
	Field      int // side of a field in panel pixels
	Cols, Rows int // of inner crossings
	off        [2]int
}

// NewGrid lays fields out over a panel, so that some fifteen stand along its shorter side.
func NewGrid(width, height int) Grid {
	f := max(8, int(math.Round(float64(min(width, height))/15)))
	g := Grid{Panel: [2]int{width, height}, Field: f}
	count := func(n int) (crossings, first int) {
		crossings = (n - 1) / f
		return crossings, (n - (crossings-1)*f) / 2
	}
	g.Cols, g.off[0] = count(width)
	g.Rows, g.off[1] = count(height)
	return g
}

// Crossing gives the panel point where four fields meet: the common corner of four pixels.
func (g Grid) Crossing(i, j int) Point {
	return Point{float64(g.off[0]+i*g.Field) - 0.5, float64(g.off[1]+j*g.Field) - 0.5}
}

// white reports whether a pixel is white.
func (g Grid) white(x, y int) bool {
	i := (x - g.off[0] + 8*g.Field) / g.Field
	j := (y - g.off[1] + 8*g.Field) / g.Field
	return (i+j)&1 == 0
}

// Image draws the grid; inverse exchanges black and white.
func (g Grid) Image(inverse bool) image.Image {
	m := image.NewRGBA(image.Rect(0, 0, g.Panel[0], g.Panel[1]))
	for y := range g.Panel[1] {
		for x := range g.Panel[0] {
			if g.white(x, y) != inverse {
				m.Set(x, y, color.White)
			} else {
				m.Set(x, y, color.Black)
			}
		}
	}
	return m
}

// Quarters draws the pattern that tells which way up the panel stands: white at the top
// left, red at the top right, blue at the bottom left, black at the bottom right.
func Quarters(width, height int) image.Image {
	m := image.NewRGBA(image.Rect(0, 0, width, height))
	for i, c := range []color.RGBA{{255, 255, 255, 255}, {255, 0, 0, 255}, {0, 0, 255, 255}, {0, 0, 0, 255}} {
		x, y := i%2*(width/2), i/2*(height/2)
		draw.Draw(m, image.Rect(x, y, x+(width+1)/2, y+(height+1)/2), image.NewUniform(c), image.Point{}, draw.Src)
	}
	return m
}

// A crossing is one that was found in a photo.
type crossing struct {
	i, j int
	at   Point
}

// find looks for the grid's crossings in a photo of it, from a rough homography of panel to photo.
// It starts near the panel's middle, where the lens bends least, and goes from each found
// crossing to its neighbours. Which fields are white decides between a crossing and the next one.
func (g Grid) find(p *plane, rough Homography, inverse bool, contrast float64) []crossing {
	type key [2]int
	found := map[key]Point{}
	sign := func(i, j int) float64 { // of the field on the upper left of a crossing
		if (i+j)&1 == 1 != inverse {
			return -1
		}
		return 1
	}
	q := g.Crossing(0, 0)
	if !g.white(int(q.X-0.5), int(q.Y-0.5)) {
		inner := sign
		sign = func(i, j int) float64 { return -inner(i, j) }
	}
	f := float64(g.Field)
	try := func(i, j int, guess, right, down Point) bool {
		small := min(right.Norm(), down.Norm())
		at, ok := p.refine(guess, max(2.5, 0.32*small))
		if !ok || at.Sub(guess).Norm() > 0.35*small {
			return false
		}
		v := func(a, b float64) float64 {
			return p.at(Point{at.X + a*right.X + b*down.X, at.Y + a*right.Y + b*down.Y})
		}
		ul, ur, ll, lr := v(-0.3, -0.3), v(0.3, -0.3), v(-0.3, 0.3), v(0.3, 0.3)
		s := sign(i, j)
		least := min(s*(ul-ur), s*(ul-ll), s*(lr-ur), s*(lr-ll))
		if least < 0.25*contrast {
			return false
		}
		found[key{i, j}] = at
		return true
	}
	steps := func(c Point) (at, right, down Point) {
		at = rough.Map(c)
		return at, rough.Map(Point{c.X + f, c.Y}).Sub(at), rough.Map(Point{c.X, c.Y + f}).Sub(at)
	}
	mi, mj := g.Cols/2, g.Rows/2
	var queue []key
	for r := 0; r < max(mi, mj) && len(queue) == 0; r++ {
		for _, d := range [][2]int{{0, 0}, {r, 0}, {-r, 0}, {0, r}, {0, -r}, {r, r}, {-r, -r}, {r, -r}, {-r, r}} {
			i, j := mi+d[0], mj+d[1]
			if i < 0 || j < 0 || i >= g.Cols || j >= g.Rows {
				continue
			}
			at, right, down := steps(g.Crossing(i, j))
			if try(i, j, at, right, down) {
				queue = append(queue, key{i, j})
				break
			}
		}
	}
	tried := map[key]int{}
	for len(queue) > 0 {
		k := queue[0]
		queue = queue[1:]
		for _, d := range []key{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			n := key{k[0] + d[0], k[1] + d[1]}
			if _, ok := found[n]; ok || n[0] < 0 || n[1] < 0 || n[0] >= g.Cols || n[1] >= g.Rows || tried[n] >= 3 {
				continue
			}
			tried[n]++
			_, right, down := steps(g.Crossing(n[0], n[1]))
			// What lies opposite tells the step better than the rough homography does.
			from, step := found[k], Point{right.X*float64(d[0]) + down.X*float64(d[1]), right.Y*float64(d[0]) + down.Y*float64(d[1])}
			if back, ok := found[key{k[0] - d[0], k[1] - d[1]}]; ok {
				step = from.Sub(back)
			}
			if try(n[0], n[1], Point{from.X + step.X, from.Y + step.Y}, right, down) {
				queue = append(queue, n)
			}
		}
	}
	out := make([]crossing, 0, len(found))
	for j := range g.Rows {
		for i := range g.Cols {
			if at, ok := found[key{i, j}]; ok {
				out = append(out, crossing{i, j, at})
			}
		}
	}
	return out
}
