package photo

import (
	"image"
	"math"
	"sort"
)

// A window is a size of rectangle over which what is left of a photo is summed up, and how
// the sums are spread when nothing has changed.
type window struct {
	W, H   int
	Energy bool // sum of squares instead of square of sums
	Mean   float64
	Std    [3]float64 // of the mean of each whitened channel; Energy: the first only
	Shape  gumbel     // of the best score in a block
	// Local holds, for each cell of the panel, by how much the standard deviation is larger there than
	// elsewhere, at least 1 (Energy: by how much the mean is higher). Where moiré is nearly
	// standing still, windows along it are less sure than others.
	Local [cells][3]float64
}

// cellsX, cellsY: the cells of window.Local.
const cellsX, cellsY, cells = 16, 8, 16 * 8

// sizes: a pixel, a glyph's stroke, a word, a button, lines along and down; and squares, for
// textures whose sum is nothing.
func sizes() []window {
	return []window{
		{W: 1, H: 1}, {W: 3, H: 3}, {W: 5, H: 5}, {W: 9, H: 9}, {W: 17, H: 17}, {W: 33, H: 25},
		{W: 24, H: 3}, {W: 3, H: 24}, {W: 80, H: 3}, {W: 3, H: 80},
		{W: 5, H: 5, Energy: true}, {W: 9, H: 9, Energy: true}, {W: 25, H: 11, Energy: true},
	}
}

// gumbel is the law of the largest of many: P(max <= x) = exp(-exp(-(x-Mu)/Beta)).
type gumbel struct{ Mu, Beta float64 }

// fitGumbel fits by probability weighted moments (Greenwood et al. 1979), with what lies far
// above the rest drawn in, so that one smear on the panel does not blind the bench.
func fitGumbel(v []float64) gumbel {
	s := append([]float64(nil), v...)
	sort.Float64s(s)
	n := float64(len(s))
	var b0, b1 float64
	for i, x := range s {
		b0 += x / n
		b1 += x * float64(i) / (n - 1) / n
	}
	beta := max((2*b1-b0)/math.Ln2, 1e-6)
	return gumbel{b0 - 0.5772156649*beta, beta}
}

// blocksX, blocksY: into how many blocks the panel is cut for learning the tails.
const blocksX, blocksY = 6, 4

// whiten turns what is left into three channels of unit variance and no correlation. Samples are held to
// +-limit: beyond that all are equally impossible.
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
	parallel(n, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			a := v.left[0][k] / sqrt32(v.noise[0][k])
			b := v.left[1][k] / sqrt32(v.noise[1][k])
			c := v.left[2][k] / sqrt32(v.noise[2][k])
			z[0][k] = clamp(m[0][0]*a, limit)
			z[1][k] = clamp(m[1][0]*a+m[1][1]*b, limit)
			z[2][k] = clamp(m[2][0]*a+m[2][1]*b+m[2][2]*c, limit)
		}
	})
}

func sqrt32(v float32) float32     { return float32(math.Sqrt(float64(v))) }
func clamp(v, lim float32) float32 { return min(max(v, -lim), lim) }

// sums are running totals, so that the sum over any rectangle takes four of them.
type sums struct {
	w, h int
	of   [4][]float64 // three channels and their squares' sum; (w+1) x (h+1)
}

func totals(z *[3][]float32, skip []bool, w, h int) *sums {
	s := &sums{w: w, h: h}
	parallel(4, func(lo, hi int) {
		for c := lo; c < hi; c++ {
			t := make([]float64, (w+1)*(h+1))
			for y := range h {
				var row float64
				for x := range w {
					k := y*w + x
					if skip == nil || !skip[k] {
						if c < 3 {
							row += float64(z[c][k])
						} else {
							row += float64(z[0][k]*z[0][k] + z[1][k]*z[1][k] + z[2][k]*z[2][k])
						}
					}
					t[(y+1)*(w+1)+x+1] = t[y*(w+1)+x+1] + row
				}
			}
			s.of[c] = t
		}
	})
	return s
}

// each calls f with the score of every place of a window: the sum of the three channels' squared
// standardised means, or the standardised energy.
func (s *sums) each(win *window, from, to int, f func(x, y int, score float64)) {
	w, h := min(win.W, s.w), min(win.H, s.h)
	stepX, stepY := max(1, w/6), max(1, h/6)
	n := float64(w * h)
	st := s.w + 1
	column := make([]int, s.w)
	for x := range column {
		column[x] = min(x+w/2, s.w-1) * cellsX / s.w
	}
	var inv [cellsX][3]float64
	for y := (from + stepY - 1) / stepY * stepY; y+h <= s.h && y < to; y += stepY {
		top, bottom := y*st, (y+h)*st
		local := win.Local[min(y+h/2, s.h-1)*cellsY/s.h*cellsX:]
		if win.Energy {
			t := s.of[3]
			for x := 0; x+w <= s.w; x += stepX {
				e := t[bottom+x+w] - t[bottom+x] - t[top+x+w] + t[top+x]
				f(x, y, (e/n-win.Mean-local[column[x]][0])/max(win.Std[0], 1e-9))
			}
			continue
		}
		for i := range inv {
			for c := range 3 {
				inv[i][c] = 1 / (n * max(win.Std[c], 1e-9) * max(local[i][c], 1))
			}
		}
		a, b, c := s.of[0], s.of[1], s.of[2]
		for x := 0; x+w <= s.w; x += stepX {
			i, j, k, l := bottom+x+w, bottom+x, top+x+w, top+x
			q := &inv[column[x]]
			u := (a[i] - a[j] - a[k] + a[l]) * q[0]
			v := (b[i] - b[j] - b[k] + b[l]) * q[1]
			t := (c[i] - c[j] - c[k] + c[l]) * q[2]
			f(x, y, u*u+v*v+t*t)
		}
	}
}

// learnWindows learns whitening, spread and tails from photos of the cards.
func (o *Optics) learnWindows(views []*sight, rep *Report) {
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	var cov [3][3]float64
	var n float64
	for _, v := range views {
		for k := range v.left[0] {
			var z [3]float64
			for c := range z {
				z[c] = float64(clamp(v.left[c][k]/sqrt32(v.noise[c][k]), 6))
			}
			for i := range 3 {
				for j := range 3 {
					cov[i][j] += z[i] * z[j]
				}
			}
			n++
		}
	}
	for i := range 3 {
		for j := range 3 {
			cov[i][j] /= n
		}
	}
	o.White = whitening(cov)
	o.Windows = sizes()
	o.Blocks = blocksX * blocksY
	all := make([]*sums, len(views))
	var z [3][]float32
	for i, v := range views {
		o.whiten(v, &z)
		all[i] = totals(&z, nil, w, h)
	}
	ranks := make([][blocksX * blocksY]float64, len(views)*len(o.Windows)) // block maxima, first as scores
	parallel(len(o.Windows), func(lo, hi int) {
		for i := lo; i < hi; i++ {
			o.Windows[i].learn(all, ranks[i*len(views):(i+1)*len(views)])
		}
	})
	var best []float64
	for j := range views {
		top := ranks[j]
		for i := range o.Windows {
			for k, v := range ranks[i*len(views)+j] {
				r := o.Windows[i].rank(v)
				if i == 0 || r > top[k] {
					top[k] = r
				}
			}
		}
		best = append(best, top[:]...)
	}
	o.Shape = fitGumbel(best)
	rep.tail = o.Shape
}

// learn finds a window's spread, over the panel and by cell, and the tail of its score. The tail is found
// with each card's own share left out of the spread by cell, since new photos will have none.
func (w *window) learn(all []*sums, maxima [][blocksX * blocksY]float64) {
	type cell struct{ sum, n [3]float64 }
	per := make([][cells]cell, len(all))
	sw, sh := all[0].w, all[0].h
	zero := make([]float64, (sw+1)*(sh+1))
	w.Mean, w.Std = 0, [3]float64{1, 1, 1}
	var sum, square, count [3]float64
	for i, s := range all {
		channels := 3
		if w.Energy {
			channels = 1
		}
		for c := range channels {
			one := s
			if !w.Energy {
				one = &sums{w: sw, h: sh, of: [4][]float64{s.of[c], zero, zero, nil}}
			}
			one.each(w, 0, sh, func(x, y int, e float64) {
				k := min(y+min(w.H, sh)/2, sh-1)*cellsY/sh*cellsX + min(x+min(w.W, sw)/2, sw-1)*cellsX/sw
				per[i][k].sum[c] += e
				per[i][k].n[c]++
				sum[c], square[c], count[c] = sum[c]+e, square[c]+e*e, count[c]+1
			})
		}
	}
	if w.Energy {
		w.Mean = sum[0] / count[0]
		w.Std[0] = math.Sqrt(max(1e-9, square[0]/count[0]-w.Mean*w.Mean))
	} else {
		for c := range 3 {
			w.Std[c] = math.Sqrt(max(1e-12, sum[c]/count[c])) // each score is a square already
		}
	}
	without := func(skip int) {
		for k := range cells {
			for c := range 3 {
				var q, n, cards float64
				for i := range per {
					if i != skip && per[i][k].n[c] > 0 {
						q, n, cards = q+per[i][k].sum[c], n+per[i][k].n[c], cards+1
					}
				}
				w.Local[k][c] = 0
				if !w.Energy {
					w.Local[k][c] = 1
				}
				if n == 0 {
					continue
				}
				if w.Energy {
					w.Local[k][c] = max(0, q/n-w.Mean) * cards / (cards + 3)
				} else { // three cards' worth of belief that the cell is like the others
					w.Local[k][c] = math.Sqrt(max(1, (q/n/(w.Std[c]*w.Std[c])*cards+3)/(cards+3)))
				}
			}
		}
	}
	w.Local = [cells][3]float64{}
	var best []float64
	for i, s := range all {
		without(i)
		maxima[i] = blockMaxima(s, w)
		best = append(best, maxima[i][:]...)
	}
	without(-1)
	w.Shape = fitGumbel(best)
}

// rank makes scores of different windows alike: standard Gumbel for the best in a block.
func (w *window) rank(score float64) float64 { return (score - w.Shape.Mu) / w.Shape.Beta }

func blockMaxima(s *sums, win *window) (best [blocksX * blocksY]float64) {
	for i := range best {
		best[i] = math.Inf(-1)
	}
	w, h := min(win.W, s.w), min(win.H, s.h)
	s.each(win, 0, s.h, func(x, y int, score float64) {
		b := (y+h/2)*blocksY/s.h*blocksX + (x+w/2)*blocksX/s.w
		best[b] = max(best[b], score)
	})
	for i, v := range best {
		if math.IsInf(v, -1) { // a block in which no such window has its middle
			best[i] = 0
		}
	}
	return best
}

// whitening gives the lower triangular matrix that makes noise of covariance c white: the inverse of its
// Cholesky factor.
func whitening(c [3][3]float64) (out [3][3]float64) {
	var l [3][3]float64
	for i := range 3 {
		for j := 0; j <= i; j++ {
			s := c[i][j]
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			if i == j {
				l[i][i] = math.Sqrt(max(s, 1e-6))
			} else {
				l[i][j] = s / l[j][j]
			}
		}
	}
	for j := range 3 {
		for i := j; i < 3; i++ {
			s := 0.0
			if i == j {
				s = 1
			}
			for k := j; k < i; k++ {
				s -= l[i][k] * out[k][j]
			}
			out[i][j] = s / l[i][i]
		}
	}
	return out
}

// chance is the probability that an unchanged screen has a score as high somewhere on the panel.
func (o *Optics) chance(rank float64) float64 {
	return -math.Expm1(-float64(o.Blocks) * math.Exp(-(rank-o.Shape.Mu)/o.Shape.Beta))
}

// limit is the rank whose chance is p.
func (o *Optics) limit(p float64) float64 {
	return o.Shape.Mu - o.Shape.Beta*math.Log(-math.Log1p(-p)/float64(o.Blocks))
}

// best finds the window with the highest rank.
func (o *Optics) best(s *sums) (rank float64, at image.Rectangle) {
	type top struct {
		rank float64
		at   image.Rectangle
	}
	tops := make([]top, len(o.Windows))
	parallel(len(o.Windows), func(lo, hi int) {
		for i := lo; i < hi; i++ {
			win := &o.Windows[i]
			tops[i].rank = math.Inf(-1)
			best, bx, by := math.Inf(-1), 0, 0
			s.each(win, 0, s.h, func(x, y int, score float64) {
				if score > best {
					best, bx, by = score, x, y
				}
			})
			tops[i] = top{win.rank(best), image.Rect(bx, by, bx+min(win.W, s.w), by+min(win.H, s.h))}
		}
	})
	rank = math.Inf(-1)
	for _, t := range tops {
		if t.rank > rank {
			rank, at = t.rank, t.at
		}
	}
	return rank, at
}
