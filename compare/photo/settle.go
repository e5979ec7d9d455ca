package photo

import (
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
	"github.com/fascia-bench/fascia/internal/rows"
)

// terms of a channel's last fit: gain in three terms, offset, movement in two, reflections that stay behind, and the bands in two.
const terms, bandTerms = 9, 7

// A fitted row holds the terms of a row of panel pixels, and what is seen there.
type fitted struct {
	of    [terms][]float32
	seen  []float32
	noise []float32
}

// fill makes the terms of a row of what is wanted and seen. Bands take the last two, where there are any.
func (f *fitted) fill(o *Optics, v *sight, want, seen *[3][]float32, c, y int, cos, sin float32) {
	w := v.seen.Width
	k := y * w
	p := want[c][k:][:w]
	f.of[0], f.of[4], f.of[5] = p, v.du[c][k:][:w], v.dv[c][k:][:w]
	clear(f.of[1])
	rows.MulAdd(f.of[1], p, o.x)
	rows.Combine(f.of[2], []float32{o.y[y]}, [][]float32{p})
	still := o.behind[c]
	rows.Combine(f.of[6], []float32{float32(v.Move.X), float32(v.Move.Y)}, [][]float32{still[0][k:][:w], still[1][k:][:w]})
	if o.Period > 0 {
		a, b := o.bands[0][k:][:w], o.bands[1][k:][:w]
		for i, by := range [2][2]float32{{cos, -sin}, {sin, cos}} {
			clear(f.of[bandTerms+i])
			rows.Combine(f.seen, by[:], [][]float32{a, b})
			rows.MulAdd(f.of[bandTerms+i], p, f.seen)
		}
	}
	copy(f.seen, seen[c][k:])
	f.noise = v.noise[c][k:][:w]
}

func newFitted(w int) *fitted {
	f := &fitted{seen: make([]float32, w)}
	for _, i := range []int{1, 2, 3, 6, 7, 8} {
		f.of[i] = make([]float32, w)
	}
	for x := range f.of[3] {
		f.of[3][x] = 1
	}
	return f
}

// setBehind makes, for each camera channel, by how much more light a photo has for each photo pixel that it has moved in u and v while the
// reflections on its panel stay where they are in it, as those in a lens do. Others move along; a fit tells how much of them does which.
func (o *Optics) setBehind() {
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	for c := range o.behind {
		var of [2][]float32
		for i := range of {
			of[i] = make([]float32, w*h)
		}
		dark, flat := o.Dark[c], o.Flat[c]
		parallel(h-2, func(lo, hi int) {
			for y := lo + 1; y < hi+1; y++ {
				for k := y*w + 1; k < y*w+w-1; k++ {
					gx, gy, by := dark[k+1]-dark[k-1], dark[k+w]-dark[k-w], -0.5/flat[k]
					of[0][k] = by * (gx*o.slope[0][k] + gy*o.slope[1][k])
					of[1][k] = by * (gx*o.slope[2][k] + gy*o.slope[3][k])
				}
			}
		})
		o.behind[c] = of
	}
}

// settle fits what may vary between photos of the same screen, and leaves the rest in left.
func (o *Optics) settle(v *sight) {
	w, h := v.seen.Width, v.seen.Height
	n := terms
	if o.Period == 0 {
		n = bandTerms
	}
	sin, cos := 0.0, 1.0
	if o.Period > 0 {
		sin, cos = math.Sincos(2 * math.Pi * v.Move.Y / o.Period)
	}
	// An earlier photo is noisy itself, and a gain that is fitted to noise comes out too small: on a dark screen by a third. Blurred
	// photos have a thirteenth of the noise.
	want, seen := &v.want, &v.seen.Light
	if o.repeats {
		want, seen = &v.soft[0], &v.soft[1]
	}
	var sol [3][terms]float64
	for c := range sol {
		sol[c][0] = 1
	}
	for round := range 4 {
		var parts [strips][3][terms][terms + 1]float64
		parallel(strips, func(lo, hi int) {
			f := newFitted(w)
			for i := lo; i < hi; i++ {
				for y := h * i / strips; y < h*(i+1)/strips; y++ {
					c := y % 3 // one row in three of each channel
					f.fill(o, v, want, seen, c, y, float32(cos), float32(sin))
					f.add(y%2, n, round == 0, &sol[c], &parts[i][c])
				}
			}
		})
		for c := range 3 {
			a := mirrored(n, func(j, k int) (sum float64) {
				if k == n {
					k = terms // bands may be left out, the right side not
				}
				for i := range parts {
					sum += parts[i][c][j][k]
				}
				return sum
			})
			// Priors: gains are near one, all else near nothing.
			for i, p := range [terms]float64{400, 1e4, 1e4, 1e5, 30, 30, 1, 1e4, 1e4} {
				if i < n {
					a[i][i] += p
				}
			}
			a[0][n] += 400
			if next, ok := rectify.Solve(a); ok {
				copy(sol[c][:], next)
			}
		}
	}
	for c := range sol {
		v.Gain[c], v.Offset[c] = sol[c][0], sol[c][3]
	}
	v.Ripple = math.Hypot(sol[1][bandTerms], sol[1][bandTerms+1]) / max(sol[1][0], 0.1)
	parallel(h, func(lo, hi int) {
		f := newFitted(w)
		for y := lo; y < hi; y++ {
			for c := range 3 {
				f.fill(o, v, &v.want, &v.seen.Light, c, y, float32(cos), float32(sin))
				inv := 1 / float32(max(sol[c][0], 0.2))
				var by [terms + 1]float32
				var from [terms + 1][]float32
				by[0], from[0] = inv, f.seen
				for i := range n {
					by[i+1], from[i+1] = -float32(sol[c][i])*inv, f.of[i]
				}
				rows.Combine(v.left[c][y*w:][:w], by[:n+1], from[:n+1])
			}
		}
	})
}

// add adds every second pixel of a row, from x on, to the upper half of the normal equations of n terms. What is far
// off is no noise: it gets no say (Tukey's biweight).
func (f *fitted) add(x, n int, first bool, sol *[terms]float64, to *[terms][terms + 1]float64) {
	var g [terms]float64
	for ; x < len(f.seen); x += 2 {
		for i := range n {
			g[i] = float64(f.of[i][x])
		}
		weight := 1 / float64(f.noise[x])
		s := float64(f.seen[x])
		r := s
		if first {
			r -= g[0]
			weight /= 1 + 0.1*math.Abs(r)*math.Sqrt(weight)
		} else {
			for i := range n {
				r -= sol[i] * g[i]
			}
			t := r * r * weight / (5 * 5)
			if t >= 1 {
				continue
			}
			weight *= (1 - t) * (1 - t)
		}
		for i := range n {
			wf := weight * g[i]
			row := &to[i]
			for j := i; j < n; j++ {
				row[j] += wf * g[j]
			}
			row[terms] += wf * s
		}
	}
}
