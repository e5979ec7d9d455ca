package rectify

import (
	"fmt"
	"math"
	"sort"
)

// Views are the photos that Locate needs, one a pattern.
type Views struct {
	White, Black, Quarters *Photo
	Grids                  []*Photo // of Grid.Image(false), then of Grid.Image(true); at least one
}

// A Fit tells how well a Geometry was fitted.
type Fit struct {
	Crossings int     // found, of all grid photos together
	Possible  int     // that the patterns have
	Residual  float64 // root mean square distance, photo pixels
	PlainRMS  float64 // the same without a lens model
	Moves     []Point // of each grid photo against the first, photo pixels
	Mirrored  bool    // the photos show the panel as in a mirror
}

// Locate fits panel and lens to photos of the patterns of a panel of width x height.
// The error says what was not found and what may help.
func Locate(width, height int, v Views) (*Geometry, Fit, error) {
	var fit Fit
	g := &Geometry{Panel: [2]int{width, height}, Photo: [2]int{v.White.Width, v.White.Height}}
	for _, p := range append([]*Photo{v.Black, v.Quarters}, v.Grids...) {
		if p.Width != g.Photo[0] || p.Height != g.Photo[1] {
			return nil, fit, fmt.Errorf("photos are %dx%d and %dx%d: take all with the same camera setting", g.Photo[0], g.Photo[1], p.Width, p.Height)
		}
	}
	white, black := v.White.grey(), v.Black.grey()
	corners, err := outline(white, black)
	if err != nil {
		return nil, fit, err
	}
	rough, mirrored, err := orient(width, height, corners, v)
	if err != nil {
		return nil, fit, err
	}
	fit.Mirrored = mirrored
	mid := rough.Map(Point{float64(width-1) / 2, float64(height-1) / 2})
	contrast := white.blur(4).at(mid) - black.blur(4).at(mid)
	grid := NewGrid(width, height)
	var seen [][]crossing
	for i, p := range v.Grids {
		c := grid.find(p.grey().blur(2), rough, i%2 == 1, max(contrast, 10))
		fit.Possible += grid.Cols * grid.Rows
		if len(c) < 24 || len(c) < grid.Cols*grid.Rows/3 {
			return nil, fit, fmt.Errorf("only %d of %d crossings of the grid were found: check focus, glare, and that nothing stands before the panel", len(c), grid.Cols*grid.Rows)
		}
		seen = append(seen, c)
	}
	g.fitGrid(grid, rough, seen, &fit)
	if limit := 0.25 * g.ratioMean(); fit.Residual > limit {
		return nil, fit, fmt.Errorf("the grid fits to %.2f photo px only, %.2f were needed: are these photos of one panel and one camera?", fit.Residual, limit)
	}
	return g, fit, nil
}

func (g *Geometry) ratioMean() float64 { _, m := g.Ratio(); return m }

// orient tells which of the four corners is the panel's first, by the colours of Quarters.
func orient(width, height int, c [4]Point, v Views) (Homography, bool, error) {
	w, h := float64(width), float64(height)
	from := []Point{{-0.5, -0.5}, {w - 0.5, -0.5}, {w - 0.5, h - 0.5}, {-0.5, h - 0.5}}
	type guess struct {
		h        Homography
		score    float64
		mirrored bool
	}
	var all []guess
	for turn := range 4 {
		for _, mirrored := range []bool{false, true} {
			var to []Point
			for i := range 4 {
				k := (turn + i) % 4
				if mirrored {
					k = (turn + 4 - i) % 4
				}
				to = append(to, c[k])
			}
			m, err := FitHomography(from, to)
			if err != nil {
				return m, false, fmt.Errorf("%w: its corners lie on a line", ErrNoPanel)
			}
			all = append(all, guess{m, quarterScore(width, height, &m, v), mirrored != clockwiseIsMirrored(c)})
		}
	}
	sort.Slice(all, func(i, j int) bool { return all[i].score > all[j].score })
	if all[0].score < 0.5 || all[0].score < all[1].score+0.1 {
		return all[0].h, false, fmt.Errorf("the coloured quarters are not seen as they should be (agreement %.2f, next best %.2f): are the photos in the order of the patterns?", all[0].score, all[1].score)
	}
	return all[0].h, all[0].mirrored, nil
}

// clockwiseIsMirrored reports whether the corners run against the clock.
func clockwiseIsMirrored(c [4]Point) bool {
	var s float64
	for i := range 4 {
		p, q := c[i], c[(i+1)%4]
		s += p.X*q.Y - q.X*p.Y
	}
	return s < 0
}

// quarterScore correlates what the quarters should be with what is seen: the red and blue share of white.
func quarterScore(width, height int, m *Homography, v Views) float64 {
	var sw, ss, sww, sss, sws, n float64
	const side = 16
	for j := range side {
		for i := range side {
			p := Point{(float64(i) + 0.5) / side * float64(width), (float64(j) + 0.5) / side * float64(height)}
			q := m.Map(p)
			x, y := int(q.X), int(q.Y)
			if x < 2 || y < 2 || x >= v.White.Width-2 || y >= v.White.Height-2 {
				continue
			}
			for _, ch := range []int{0, 2} {
				lo, hi, at := v.Black.mean(x, y, ch), v.White.mean(x, y, ch), v.Quarters.mean(x, y, ch)
				if hi-lo < 10 {
					continue
				}
				want := 0.0
				if left, top := i < side/2, j < side/2; ch == 0 && top || ch == 2 && left {
					want = 1
				}
				s := min(max((at-lo)/(hi-lo), -0.5), 1.5)
				sw, ss, sww, sss, sws, n = sw+want, ss+s, sww+want*want, sss+s*s, sws+want*s, n+1
			}
		}
	}
	den := math.Sqrt((sww*n - sw*sw) * (sss*n - ss*ss))
	if n < side*side/2 || !(den > 0) {
		return 0
	}
	return (sws*n - sw*ss) / den
}

// mean is the mean of a channel over 5x5 pixels, 0 to 255.
func (p *Photo) mean(x, y, ch int) (sum float64) {
	for j := -2; j <= 2; j++ {
		for i := -2; i <= 2; i++ {
			sum += float64(p.Pix[(y+j)*p.Stride+4*(x+i)+ch])
		}
	}
	return sum / 25
}

// fitGrid fits plane, lens and the movement of every further photo to all crossings together; the
// lens is taken in only after a plane alone has thrown out what is far off.
func (g *Geometry) fitGrid(grid Grid, rough Homography, seen [][]crossing, fit *Fit) {
	type pair struct {
		photo    int
		from, to Point
	}
	var pairs []pair
	var from, to []Point
	for k, cs := range seen {
		for _, c := range cs {
			pairs = append(pairs, pair{k, grid.Crossing(c.i, c.j), c.at})
			from, to = append(from, grid.Crossing(c.i, c.j)), append(to, g.normal(c.at))
		}
	}
	plain, err := FitHomography(from, to)
	if err != nil {
		plain = rough
	}
	// Panel points are scaled to about one, so that all parameters are of one size.
	s := float64(max(g.Panel[0], g.Panel[1]))
	down := Homography{s, 0, 0, 0, s, 0, 0, 0, 1}
	n := mul(plain, down).scaled()
	p := append(append([]float64(nil), n[:8]...), make([]float64, 4+2*(len(seen)-1))...)
	set := func(p []float64) (*Geometry, []Point) {
		m := Homography{p[0] / s, p[1] / s, p[2], p[3] / s, p[4] / s, p[5], p[6] / s, p[7] / s, 1}
		o := &Geometry{Panel: g.Panel, Photo: g.Photo, Plane: m, Lens: Lens{K1: p[8], K2: p[9], P1: p[10], P2: p[11]}}
		moves := make([]Point, len(seen))
		for k := 1; k < len(seen); k++ {
			moves[k] = Point{p[10+2*k], p[11+2*k]}
		}
		return o, moves
	}
	solveFor := func(limit float64) float64 {
		return minimise(p, 2*len(pairs), limit, func(p, r []float64) {
			o, moves := set(p)
			for i, q := range pairs {
				d := o.ToPhoto(q.from)
				r[2*i], r[2*i+1] = d.X+moves[q.photo].X-q.to.X, d.Y+moves[q.photo].Y-q.to.Y
			}
		})
	}
	for i := range pairs {
		d := plain.Map(from[i]).Sub(to[i]).Norm() * g.scale()
		fit.PlainRMS += d * d / float64(len(pairs))
	}
	fit.PlainRMS = math.Sqrt(fit.PlainRMS)
	solveFor(0.5)
	for range 2 { // crossings that glare or a finger has pushed aside
		o, moves := set(p)
		off := make([]float64, len(pairs))
		for i, q := range pairs {
			d := o.ToPhoto(q.from)
			off[i] = math.Hypot(d.X+moves[q.photo].X-q.to.X, d.Y+moves[q.photo].Y-q.to.Y)
		}
		s := append([]float64(nil), off...)
		sort.Float64s(s)
		limit := max(0.3, 5*s[len(s)/2])
		kept := pairs[:0]
		for i, q := range pairs {
			if off[i] <= limit {
				kept = append(kept, q)
			}
		}
		pairs = kept
		solveFor(0.3)
	}
	o, moves := set(p)
	*g, fit.Moves, fit.Crossings = *o, moves, len(pairs)
	for _, q := range pairs {
		d := o.ToPhoto(q.from)
		e := math.Hypot(d.X+moves[q.photo].X-q.to.X, d.Y+moves[q.photo].Y-q.to.Y)
		fit.Residual += e * e / float64(len(pairs))
	}
	fit.Residual = math.Sqrt(fit.Residual)
}
