package photo

import (
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// A sight is one photo on the panel's grid, held against a prediction.
type sight struct {
	Move   rectify.Point // of the photo against the geometry, photo pixels
	Gain   [3]float64    // of each channel against the bench's white
	Offset [3]float64    // light that was added everywhere, as a share of white
	Ripple float64       // amplitude of bands, as a share
	seen   rectify.Planes
	want   [3][]float32 // predicted, as a share of white, leak included
	du, dv [3][]float32 // by how much seen is off from want for each photo pixel that the photo has moved further
	left   [3][]float32 // seen less fitted prediction, in the same unit, gains divided out
	noise  [3][]float32 // variance of left
	edge   []float32    // share of left's standard deviation that is due to content nearby; see edges
}

// few says which rows are looked at while a photo is being registered: three in eight, and the panel's first and last.
// Three, because a gradient takes the rows above and below.
func few(h int) func(y int) bool {
	return func(y int) bool { return y%8 < 3 || y < 3 || y >= h-3 }
}

// predict fills those rows of a sight that rows holds for, nil being all, for a photo moved by move; withWaves says
// whether moiré is included.
func (o *Optics) predict(s *screen, move rectify.Point, withWaves bool, rows func(y int) bool, v *sight) {
	n := s.w * s.h
	for c := range v.want {
		if len(v.want[c]) != n {
			v.want[c], v.left[c], v.noise[c] = make([]float32, n), make([]float32, n), make([]float32, n)
			v.du[c], v.dv[c] = make([]float32, n), make([]float32, n)
		}
	}
	cu, su, cv, sv := turn(move.X, move.Y)
	parallel(s.h, func(lo, hi int) {
		var ws [][waves]float32
		if withWaves {
			ws = make([][waves]float32, s.w)
		}
		cos, sin := make([][]float32, len(o.Overtones)), make([][]float32, len(o.Overtones))
		for i := range cos {
			cos[i], sin[i] = make([]float32, s.w), make([]float32, s.w)
		}
		for y := lo; y < hi; y++ {
			if rows != nil && !rows(y) {
				continue
			}
			for x := range ws {
				o.waveAt(y*s.w+x, cu, su, cv, sv, &ws[x])
			}
			if withWaves && len(cos) > 0 {
				o.overtoneWaves(y, s.w, cu, su, cv, sv, cos, sin)
			}
			for c := range 3 {
				row := v.want[c][y*s.w : (y+1)*s.w]
				to := wanted{row, v.du[c][y*s.w : (y+1)*s.w], v.dv[c][y*s.w : (y+1)*s.w]}
				o.predictRow(s, c, y, ws, to)
				if withWaves {
					o.overtoneRow(s, c, y, cos, sin, to)
				}
				o.variance(s, c, y, row, v.noise[c][y*s.w:(y+1)*s.w])
				dark, flat := o.Dark[c][y*s.w:], o.Flat[c][y*s.w:]
				for x := range row {
					row[x] += dark[x] / flat[x]
				}
			}
		}
	})
	o.slopes(v, s.w, s.h, rows)
}

// slopes adds to du and dv what comes of the picture's own gradient.
func (o *Optics) slopes(v *sight, w, h int, rows func(y int) bool) {
	parallel(h, func(lo, hi int) {
		for y := max(lo, 1); y < min(hi, h-1); y++ {
			if rows != nil && !(rows(y-1) && rows(y) && rows(y+1)) {
				continue
			}
			for x := 1; x < w-1; x++ {
				k := y*w + x
				ux, uy := o.sampler.U[k+1]-o.sampler.U[k], o.sampler.U[k+w]-o.sampler.U[k]
				vx, vy := o.sampler.V[k+1]-o.sampler.V[k], o.sampler.V[k+w]-o.sampler.V[k]
				inv := 0.5 / (ux*vy - uy*vx)
				for c := range 3 {
					q := v.want[c]
					gx, gy := (q[k+1]-q[k-1])*inv, (q[k+w]-q[k-w])*inv
					v.du[c][k] -= gx*vy - gy*vx
					v.dv[c][k] -= gy*ux - gx*uy
				}
			}
		}
	})
}

// noiseTerms: a constant, light, its square, the variance of the like channel's light nearby, that of the
// others', and these two times the strength of moiré there, since fine content is predicted worst where it beats.
const noiseTerms = 7

// variance gives a row's noise.
func (o *Optics) variance(s *screen, c, y int, want, out []float32) {
	t := o.Noise[c]
	a, b, q := float32(t[0]), float32(t[1]), float32(t[2])
	e, f, g, h := float32(t[3]), float32(t[4]), float32(t[5]), float32(t[6])
	k := s.at(0, y)
	n := len(out)
	own, one, two := s.vary[c][k:][:n], s.vary[(c+1)%3][k:][:n], s.vary[(c+2)%3][k:][:n]
	moire := o.moire[c][y*s.w:][:n]
	want = want[:n]
	for x := range out {
		p, m := max(want[x], 0), moire[x]
		out[x] = a + p*(b+q*p) + (e+g*m)*own[x] + (f+h*m)*(one[x]+two[x])
	}
}

// edges fills edge: the share of each pixel's standard deviation that comes of content, as the mean of the
// channels, and of that the greatest among the pixel and its neighbours.
func (o *Optics) edges(v *sight, w, h int) {
	if len(v.edge) != w*h {
		v.edge = make([]float32, w*h)
	}
	wide := make([]float32, w*h)
	parallel(h, func(lo, hi int) {
		one := make([]float32, w+2)
		for y := lo; y < hi; y++ {
			clear(one)
			row := one[1 : w+1]
			for c := range 3 {
				a, b, q := float32(o.Noise[c][0]), float32(o.Noise[c][1]), float32(o.Noise[c][2])
				want, noise := v.want[c][y*w:][:w], v.noise[c][y*w:][:w]
				dark, flat := o.Dark[c][y*w:][:w], o.Flat[c][y*w:][:w]
				for x := range row {
					p := max(0, want[x]-dark[x]/flat[x])
					// Less than a hundredth is rounding.
					if e := 1 - (a+p*(b+q*p))/noise[x]; e > 0.01 {
						row[x] += sqrt32(e) / 3
					}
				}
			}
			for x := range w {
				wide[y*w+x] = max(one[x], one[x+1], one[x+2])
			}
		}
	})
	parallel(h, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			above, mid, below := wide[max(y-1, 0)*w:][:w], wide[y*w:][:w], wide[min(y+1, h-1)*w:][:w]
			out := v.edge[y*w:][:w]
			for x := range out {
				out[x] = max(above[x], mid[x], below[x])
			}
		}
	})
}

// variances makes a view's noise anew, and its edges.
func (o *Optics) variances(s *screen, v *sight) {
	row := make([]float32, s.w)
	for y := range s.h {
		for c := range 3 {
			for x := range row {
				k := y*s.w + x
				row[x] = v.want[c][k] - o.Dark[c][k]/o.Flat[c][k]
			}
			o.variance(s, c, y, row, v.noise[c][y*s.w:(y+1)*s.w])
		}
	}
	o.edges(v, s.w, s.h)
}

// setMoire works out from the kernels how strong moiré is by place: the power of the waves over an even area.
func (o *Optics) setMoire() {
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	for c := range o.moire {
		if len(o.moire[c]) != w*h {
			o.moire[c] = make([]float32, w*h)
		}
		taps := o.Kernel[c][same+2*cross+shifting:]
		for y := range h {
			for x := range w {
				px, py := o.x[x], o.y[y]
				var sum float32
				for j := range waves {
					a := taps[j] + taps[waves+j] + taps[2*waves+j]
					for i, p := range [places]float32{px, py, px * px, px * py, py * py} {
						a += p * taps[(waveTaps+i)*waves+j]
					}
					sum += a * a
				}
				o.moire[c][y*w+x] = min(sum, 1)
			}
		}
	}
}

// normalise turns sampled light into shares of white, in the rows that rows holds for.
func (o *Optics) normalise(p *rectify.Planes, rows func(y int) bool) {
	parallel(p.Height, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			if rows != nil && !rows(y) {
				continue
			}
			for c := range p.Light {
				l, f := p.Light[c][y*p.Width:][:p.Width], o.Flat[c][y*p.Width:][:p.Width]
				for x := range l {
					l[x] /= f[x]
				}
			}
		}
	})
}

// register finds how much further than v.Move the photo has moved, by the gradient of the prediction. Gains and
// offsets are fitted along. Bounded influence (Huber) keeps what really differs from pulling.
func (o *Optics) register(v *sight, rows func(y int) bool) (more rectify.Point) {
	w, h := v.seen.Width, v.seen.Height
	var gain, offset [3]float64
	for c := range gain {
		gain[c] = 1
	}
	first := true
	for range 3 {
		// Unknown: the two movements, then gain and offset of each channel.
		a := make([][]float64, 8)
		for i := range a {
			a[i] = make([]float64, 9)
		}
		for y := 1; y < h-1; y++ {
			if rows != nil && !(rows(y-1) && rows(y) && rows(y+1)) {
				continue
			}
			step := 2
			if y == 1 || y == h-2 {
				step = 1 // the panel's border is all there is to be seen of an even screen
			} else if y%2 == 0 && rows == nil {
				step = w - 3
			}
			for x := 1; x < w-1; x += step {
				k := y*w + x
				for c := range 3 {
					q := v.want[c]
					fu, fv := float64(v.du[c][k]), float64(v.dv[c][k])
					p, s := float64(q[k]), float64(v.seen.Light[c][k])
					weight := 1 / float64(v.noise[c][k])
					r := s - gain[c]*p - offset[c] - fu*more.X - fv*more.Y
					if lim := 3 * math.Sqrt(float64(v.noise[c][k])); !first && math.Abs(r) > lim {
						weight *= lim / math.Abs(r)
					}
					f := [4]float64{fu, fv, p, 1}
					at := [4]int{0, 1, 2 + 2*c, 3 + 2*c}
					for i := range f {
						for j := range f {
							a[at[i]][at[j]] += weight * f[i] * f[j]
						}
						a[at[i]][8] += weight * f[i] * s
					}
				}
			}
		}
		for i := range 2 {
			a[i][i] += 4 // a prior: a rig moves by half a pixel
		}
		for c := range 3 { // and priors for dark screens, whose gain can't be seen
			a[2+2*c][2+2*c] += 100
			a[2+2*c][8] += 100
			a[3+2*c][3+2*c] += 1e4
		}
		sol, ok := rectify.Solve(a)
		if !ok {
			return more
		}
		more = rectify.Point{X: sol[0], Y: sol[1]}
		for c := range 3 {
			gain[c], offset[c] = sol[2+2*c], sol[3+2*c]
		}
		first = false
	}
	return more
}

// terms of a channel's last fit: gain in three terms, offset, movement in two, and the bands in two.
const terms = 8

// settle fits what may vary between photos of the same screen, and leaves the rest in left.
func (o *Optics) settle(v *sight) {
	w, h := v.seen.Width, v.seen.Height
	n := terms
	if o.Period == 0 {
		n = terms - 2
	}
	var wave [2][]float32 // of the bands, by panel pixel
	if o.Period > 0 {
		wave[0], wave[1] = make([]float32, w*h), make([]float32, w*h)
		parallel(h, func(lo, hi int) {
			for k := lo * w; k < hi*w; k++ {
				s, c := math.Sincos(2 * math.Pi * (float64(o.sampler.V[k]) + v.Move.Y) / o.Period)
				wave[0][k], wave[1][k] = float32(c), float32(s)
			}
		})
	}
	v.Ripple = 0
	parallel(3, func(lo, hi int) {
		for c := lo; c < hi; c++ {
			q, seen := v.want[c], v.seen.Light[c]
			fill := func(x, y int, f *[terms]float64) {
				k := y*w + x
				p := float64(q[k])
				f[0], f[1], f[2], f[3] = p, p*float64(o.x[x]), p*float64(o.y[y]), 1
				f[4], f[5] = float64(v.du[c][k]), float64(v.dv[c][k])
				if n == terms {
					f[6], f[7] = p*float64(wave[0][k]), p*float64(wave[1][k])
				}
			}
			var sol []float64
			var f [terms]float64
			for round := range 4 {
				a := make([][]float64, n)
				for i := range a {
					a[i] = make([]float64, n+1)
				}
				for y := c % 3; y < h; y += 3 {
					for x := y % 2; x < w; x += 2 {
						k := y*w + x
						fill(x, y, &f)
						weight := 1 / float64(v.noise[c][k])
						s := float64(seen[k])
						if round > 0 {
							r := s
							for i := range sol {
								r -= sol[i] * f[i]
							}
							// What is far off is no noise: it gets no say (Tukey's biweight).
							t := r * r * weight / (5 * 5)
							if t >= 1 {
								continue
							}
							weight *= (1 - t) * (1 - t)
						} else {
							r := s - f[0]
							weight /= 1 + 0.1*math.Abs(r)*math.Sqrt(weight)
						}
						for i := range n {
							wf := weight * f[i]
							for j := range n {
								a[i][j] += wf * f[j]
							}
							a[i][n] += wf * s
						}
					}
				}
				// Priors: gains are near one, all else near nothing.
				for i, p := range [terms]float64{400, 1e4, 1e4, 1e5, 30, 30, 1e4, 1e4} {
					if i < n {
						a[i][i] += p
					}
				}
				a[0][n] += 400
				next, ok := rectify.Solve(a)
				if !ok {
					break
				}
				sol = next
			}
			if sol == nil {
				sol = make([]float64, n)
				sol[0] = 1
			}
			v.Gain[c], v.Offset[c] = sol[0], sol[3]
			if n == terms && c == 1 {
				v.Ripple = math.Hypot(sol[6], sol[7]) / max(sol[0], 0.1)
			}
			inv := 1 / float32(max(sol[0], 0.2))
			var g [terms]float32
			for i := range sol {
				g[i] = float32(sol[i])
			}
			for y := range h {
				gy := g[0] + g[2]*o.y[y]
				for x := range w {
					k := y*w + x
					p := q[k] * (gy + g[1]*o.x[x])
					if n == terms {
						p += q[k] * (g[6]*wave[0][k] + g[7]*wave[1][k])
					}
					p += g[3] + g[4]*v.du[c][k] + g[5]*v.dv[c][k]
					v.left[c][k] = (seen[k] - p) * inv
				}
			}
		}
	})
}

// look samples a photo, registers it against a screen and settles what may vary. A few rows tell where the photo
// stands; all rows are then looked at there, and once more should they say otherwise.
func (o *Optics) look(p *rectify.Photo, s *screen, start rectify.Point) (*sight, bool) {
	v := &sight{Move: start}
	at := func(waves bool, rows func(y int) bool) bool {
		if v.Move.Norm() > 30 || !o.sampler.SampleRows(p, v.Move, &v.seen, rows) {
			return false
		}
		o.normalise(&v.seen, rows)
		o.predict(s, v.Move, waves, rows, v)
		return true
	}
	// further moves by what registering says and reports whether that was next to nothing.
	further := func(rows func(y int) bool) bool {
		more := o.register(v, rows)
		d := more.Norm()
		if d > 1.5 { // the gradient says little beyond that
			more.X, more.Y = more.X*1.5/d, more.Y*1.5/d
		}
		v.Move.X, v.Move.Y = v.Move.X+more.X, v.Move.Y+more.Y
		return d < 0.06
	}
	rows := few(s.h)
	for i := range 6 {
		if !at(i > 0, rows) {
			// For who asks what was seen where the panel should be.
			v.Move = start
			at(false, nil)
			return v, false
		}
		if further(rows) && i > 0 {
			break
		}
	}
	for range 3 {
		if !at(true, nil) {
			return v, false
		}
		// A hundredth of a pixel is made good by settle.
		before := v.Move
		if further(nil) {
			v.Move = before
			break
		}
	}
	o.settle(v)
	return v, true
}
