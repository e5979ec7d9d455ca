package photo

// noiseTerms: a constant; all light that falls in, a reflection's too, for its photons; the square of the panel's light; the variance of
// the like channel's light nearby, that of the others', and these two times the strength of moiré there, since fine content is
// predicted worst where it beats.
const noiseTerms = 7

// variance gives a row's noise, where the panel's light is want and black's is there beside.
func (o *Optics) variance(s *screen, c, y int, want, black, out []float32) {
	t := o.Noise[c]
	a, b, q := float32(t[0]), float32(t[1]), float32(t[2])
	e, f, g, h := float32(t[3]), float32(t[4]), float32(t[5]), float32(t[6])
	k := s.at(0, y)
	n := len(out)
	own, one, two := s.vary[c][k:][:n], s.vary[(c+1)%3][k:][:n], s.vary[(c+2)%3][k:][:n]
	moire := o.moire[c][y*s.w:][:n]
	want, black = want[:n], black[:n]
	for x := range out {
		p, m := max(want[x], 0), moire[x]
		out[x] = a + b*(p+black[x]) + q*p*p + (e+g*m)*own[x] + (f+h*m)*(one[x]+two[x])
	}
}

// edges fills edge: the share of each pixel's standard deviation that comes of content, as the mean of the
// channels, and of that the greatest among the pixel and its neighbours.
func (o *Optics) edges(v *sight, w, h int) {
	if len(v.edge) != w*h {
		v.edge, v.wide = make([]float32, w*h), make([]float32, w*h)
	}
	wide := v.wide
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
					black := dark[x] / flat[x]
					p := max(0, want[x]-black)
					// Less than a hundredth is rounding.
					if e := 1 - (a+b*(p+black)+q*p*p)/noise[x]; e > 0.01 {
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
	row, black := make([]float32, s.w), make([]float32, s.w)
	for y := range s.h {
		for c := range 3 {
			for x := range row {
				k := y*s.w + x
				black[x] = o.Dark[c][k] / o.Flat[c][k]
				row[x] = v.want[c][k] - black[x]
			}
			o.variance(s, c, y, row, black, v.noise[c][y*s.w:(y+1)*s.w])
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

// fitNoise fits the variance of what is left to its terms, none of them negative.
func (o *Optics) fitNoise(shown []*screen, views []*sight) {
	w := o.Geometry.Panel[0]
	for c := range 3 {
		type row struct {
			f [noiseTerms]float64
			e float64 // square of what is left
		}
		var rows []row
		for i, v := range views {
			s := shown[i]
			for k := i % 11; k < len(v.left[c]); k += 11 {
				x, y := k%w, k/w
				at := s.at(x, y)
				black := float64(o.Dark[c][k] / o.Flat[c][k])
				p := max(0, float64(v.want[c][k])-black)
				e := float64(v.left[c][k])
				own, others, m := float64(s.vary[c][at]), float64(s.vary[(c+1)%3][at]+s.vary[(c+2)%3][at]), float64(o.moire[c][k])
				rows = append(rows, row{[noiseTerms]float64{1, p + black, p * p, own, others, own * m, others * m}, e * e})
			}
		}
		t := o.Noise[c]
		for range 6 {
			var a [noiseTerms][noiseTerms + 1]float64
			for _, r := range rows {
				var v float64
				for i := range t {
					v += t[i] * r.f[i]
				}
				weight := 1 / (v * v)
				e := min(r.e, 40*v)
				for i := range t {
					for j := range t {
						a[i][j] += weight * r.f[i] * r.f[j]
					}
					a[i][noiseTerms] += weight * r.f[i] * e
				}
			}
			for range 300 {
				for i := range t {
					s := a[i][noiseTerms]
					for j := range t {
						if j != i {
							s -= a[i][j] * t[j]
						}
					}
					t[i] = max(0, s/max(a[i][i], 1e-12))
				}
			}
			t[0] = max(t[0], 1e-7)
		}
		o.Noise[c] = t
	}
}
