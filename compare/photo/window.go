package photo

import (
	"image"
	"math"
	"slices"
)

// A window is a size of rectangle over which what is left of a photo is summed up, and how
// the sums are spread when nothing has changed.
type window struct {
	W, H  int
	Std   [3]float64 // of the sum of each whitened channel over an even area
	Usual float64    // the score that a quarter of all places exceed in a usual photo
	Base  gumbel     // of the best score in a block; it makes sizes alike
	// Local holds, for each cell of the panel, by how much the variance is larger there than
	// elsewhere, at least 1. Where moiré is nearly standing still, windows are less sure than others.
	Local [cells][3]float64
}

// cellsX, cellsY: the cells of window.Local.
const cellsX, cellsY, cells = 20, 12, 20 * 12

// sizes: a pixel, a glyph's stroke, a glyph, a word, a button, lines along and down, and an area.
func sizes() []window {
	return []window{{W: 1, H: 1}, {W: 3, H: 3}, {W: 5, H: 5}, {W: 9, H: 9}, {W: 17, H: 9}, {W: 33, H: 25}, {W: 32, H: 3}, {W: 3, H: 24}}
}

// whiten turns what is left, less what is allowed for at edges, into three channels of unit variance and no
// correlation. Samples are held to +-limit: beyond that all are equally impossible.
func (o *Optics) whiten(v *sight, z *[3][]float32) {
	const limit = 60
	n := len(v.left[0])
	for c := range z {
		if len(z[c]) != n {
			z[c] = make([]float32, n)
		}
	}
	var m [3][3]float32
	for i := range m {
		for j := range m {
			m[i][j] = float32(o.White[i][j])
		}
	}
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	column := columns(w)
	parallel(h, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			var allow [3][cellsX]float32
			for c := range allow {
				for i := range cellsX {
					allow[c][i] = float32(o.Allow[c][y*cellsY/h*cellsX+i])
				}
			}
			for x := range w {
				k := y*w + x
				e, i := v.edge[k], column[x]
				a := beyond(v.left[0][k]/sqrt32(v.noise[0][k]), e*allow[0][i])
				b := beyond(v.left[1][k]/sqrt32(v.noise[1][k]), e*allow[1][i])
				c := beyond(v.left[2][k]/sqrt32(v.noise[2][k]), e*allow[2][i])
				z[0][k] = clamp(m[0][0]*a, limit)
				z[1][k] = clamp(m[1][0]*a+m[1][1]*b, limit)
				z[2][k] = clamp(m[2][0]*a+m[2][1]*b+m[2][2]*c, limit)
			}
		}
	})
}

// beyond is by how much v goes beyond +-allowed.
func beyond(v, allowed float32) float32 {
	switch {
	case v > allowed:
		return v - allowed
	case v < -allowed:
		return v + allowed
	}
	return 0
}

// columns gives the cell that each panel column lies in.
func columns(w int) []int {
	out := make([]int, w)
	for x := range out {
		out[x] = x * cellsX / w
	}
	return out
}

func sqrt32(v float32) float32     { return float32(math.Sqrt(float64(v))) }
func clamp(v, lim float32) float32 { return min(max(v, -lim), lim) }

// sums are running totals of three channels, so that the sum over any rectangle takes four of them.
type sums struct {
	w, h int
	of   [3][]float64 // (w+1) x (h+1)
}

// total makes them anew; the first row and column stay zero.
func (s *sums) total(z *[3][]float32, skip []bool, w, h int) {
	s.w, s.h = w, h
	parallel(3, func(lo, hi int) {
		for c := lo; c < hi; c++ {
			t := s.of[c]
			if len(t) != (w+1)*(h+1) {
				t = make([]float64, (w+1)*(h+1))
			}
			for y := range h {
				var row float64
				above, out := t[y*(w+1)+1:][:w], t[(y+1)*(w+1)+1:][:w]
				from := z[c][y*w:][:w]
				for x := range out {
					if skip == nil || !skip[y*w+x] {
						row += float64(from[x])
					}
					out[x] = above[x] + row
				}
			}
			s.of[c] = t
		}
	})
}

// cell is the place in Local of a point.
func (s *sums) cell(x, y int) int {
	return min(y, s.h-1)*cellsY/s.h*cellsX + min(x, s.w-1)*cellsX/s.w
}

// places is how many places a window has across and down, and how far they stand apart.
func (s *sums) places(win *window) (across, down, stepX, stepY int) {
	w, h := min(win.W, s.w), min(win.H, s.h)
	stepX, stepY = max(1, w/6), max(1, h/6)
	return (s.w-w)/stepX + 1, (s.h-h)/stepY + 1, stepX, stepY
}

// row fills out with the squares of the three channels' sums, as multiples of their variances, at all places of
// the j-th row of a window's places. column holds the cell of each place.
func (s *sums) row(win *window, j int, column []int, out [][3]float64) {
	w, h := min(win.W, s.w), min(win.H, s.h)
	_, _, stepX, stepY := s.places(win)
	y, st := j*stepY, s.w+1
	local := win.Local[s.cell(0, y+h/2):]
	var inv [cellsX][3]float64
	for i := range inv {
		for c := range 3 {
			inv[i][c] = 1 / (max(win.Std[c]*win.Std[c], 1e-9) * max(local[i][c], 1))
		}
	}
	for c := range 3 {
		top, bottom := s.of[c][y*st:][:st], s.of[c][(y+h)*st:][:st]
		for i := range out {
			l, r := i*stepX, i*stepX+w
			u := bottom[r] - bottom[l] - top[r] + top[l]
			out[i][c] = u * u * inv[column[i]][c]
		}
	}
}

// columns gives the cell of each place in a row of a window's places.
func (s *sums) columns(win *window) []int {
	across, _, stepX, _ := s.places(win)
	out := make([]int, across)
	for i := range out {
		out[i] = min(i*stepX+min(win.W, s.w)/2, s.w-1) * cellsX / s.w
	}
	return out
}

// each calls f with the squares of the three channels' sums, as multiples of their variances, at every place
// of a window.
func (s *sums) each(win *window, f func(x, y int, q *[3]float64)) {
	across, down, stepX, stepY := s.places(win)
	column, out := s.columns(win), make([][3]float64, across)
	for j := range down {
		s.row(win, j, column, out)
		for i := range out {
			f(i*stepX, j*stepY, &out[i])
		}
	}
}

// scores gives the score of every place, the squares of the channels' sums added. A photo whose
// scores are high all over is worse than usual everywhere, such as by a rig that shook: its scores are divided
// by that, up to mostWorse. A difference is seen by standing out.
func (s *sums) scores(win *window, to []scored) []scored {
	across, down, stepX, stepY := s.places(win)
	to = slices.Grow(to[:0], across*down)[:across*down]
	column := s.columns(win)
	parallel(down, func(lo, hi int) {
		out := make([][3]float64, across)
		for j := lo; j < hi; j++ {
			s.row(win, j, column, out)
			row := to[j*across:][:across]
			for i, q := range out {
				row[i] = scored{int32(i * stepX), int32(j * stepY), float32(q[0] + q[1] + q[2])}
			}
		}
	})
	if win.Usual > 0 {
		if worse := upperQuarter(to) / win.Usual; worse > 1 {
			f := float32(1 / min(worse, mostWorse))
			for i := range to {
				to[i].score *= f
			}
		}
	}
	return to
}

type scored struct {
	x, y  int32
	score float32
}

// mostWorse bounds by how much a photo's scores are divided, so that a screen that has changed all over is
// not taken for a poor photo.
const mostWorse = 3

// upperQuarter is the score that a quarter of all exceed, told from every seventh.
func upperQuarter(s []scored) float64 {
	v := make([]float32, 0, len(s)/7+1)
	for i := 0; i < len(s); i += 7 {
		v = append(v, s[i].score)
	}
	return float64(smallest(v, len(v)*3/4))
}

// smallest puts v partly in order and gives the value that k others come before (Hoare's selection).
func smallest(v []float32, k int) float32 {
	for lo, hi := 0, len(v)-1; lo < hi; {
		pivot := v[(lo+hi)/2]
		i, j := lo, hi
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for pivot < v[j] {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return v[k]
		}
	}
	return v[k]
}

// rank makes scores of different windows alike: standard Gumbel for the best in a block.
func (w *window) rank(score float64) float64 { return (score - w.Base.Mu) / w.Base.Beta }

// best finds the window with the highest rank.
func (o *Optics) best(s *sums) (rank float64, at image.Rectangle) {
	var all []scored
	rank = math.Inf(-1)
	for i := range o.Windows {
		win := &o.Windows[i]
		all = s.scores(win, all)
		best := scored{score: float32(math.Inf(-1))}
		for _, q := range all {
			if q.score > best.score {
				best = q
			}
		}
		if r := win.rank(float64(best.score)); r > rank {
			x, y := int(best.x), int(best.y)
			rank, at = r, image.Rect(x, y, x+min(win.W, s.w), y+min(win.H, s.h))
		}
	}
	return rank, at
}
