package photo

import "math"

// What a camera channel sees of a panel pixel is a linear combination of features: the light of
// the pixel and its neighbours in each of the panel's channels (point spread, stripes, colour mixing), the
// light of the like channel times the place on the panel (scale and blur vary under a tilt), and
// that light times waves whose phase is where the pixel falls on the camera's mosaic. The last are the
// moiré: panel pixels are at a fixed phase of the panel's stripes, so that all that varies is the mosaic's phase,
// which the geometry tells. A Bayer mosaic repeats after two pixels, so the waves are those of period 2 and 1.
const (
	same      = 25 // 5x5 of the like channel
	cross     = 9  // 3x3 of each of the other two
	waves     = 12
	shifting  = 9 * 2 // 3x3 of the like channel, times x and times y
	waveTaps  = 3     // the pixel and its neighbours left and right
	places    = 5     // x, y, and their products
	waveDrift = waves * places
	slow      = 8 // the waves of period 2 along a side, which fine lenses leave most of
	sideTaps  = 4 // of the slow waves: above, below, and the other two channels
	features  = same + 2*cross + shifting + waves*waveTaps + waveDrift + slow*sideTaps
)

// phase gives the waves at a pixel, from cos and sin of pi u and pi v.
func phase(cu, su, cv, sv float32, w *[waves]float32) {
	w[0], w[1], w[2], w[3] = cu, su, cv, sv
	w[4], w[5] = cu*cv-su*sv, su*cv+cu*sv
	w[6], w[7] = cu*cv+su*sv, su*cv-cu*sv
	w[8], w[9] = 2*cu*cu-1, 2*su*cu
	w[10], w[11] = 2*cv*cv-1, 2*sv*cv
}

// turn gives the cosines and sines by which a movement of the photo turns the waves' phases.
func turn(dx, dy float64) (cu, su, cv, sv float32) {
	s, c := math.Sincos(math.Pi * dx)
	t, d := math.Sincos(math.Pi * dy)
	return float32(c), float32(s), float32(d), float32(t)
}

// waveAt fills the waves of panel pixel k for a photo moved as turn says.
func (o *Optics) waveAt(k int, cu, su, cv, sv float32, w *[waves]float32) {
	a, b, c, d := o.basis[0][k], o.basis[1][k], o.basis[2][k], o.basis[3][k]
	phase(a*cu-b*su, b*cu+a*su, c*cv-d*sv, d*cv+c*sv, w)
}

// feature fills f with the features of channel c at (x, y); it is the plain form of predictRow.
func (o *Optics) feature(s *screen, c, x, y int, w *[waves]float32, f []float32) {
	k, i := s.at(x, y), 0
	l := s.light[c]
	for dy := -2; dy <= 2; dy++ {
		for dx := -2; dx <= 2; dx++ {
			f[i] = l[k+dy*s.stride+dx]
			i++
		}
	}
	for d := range 3 {
		if d == c {
			continue
		}
		m := s.light[d]
		for dy := -1; dy <= 1; dy++ {
			for dx := -1; dx <= 1; dx++ {
				f[i] = m[k+dy*s.stride+dx]
				i++
			}
		}
	}
	px, py := o.x[x], o.y[y]
	for dy := -1; dy <= 1; dy++ {
		for dx := -1; dx <= 1; dx++ {
			v := l[k+dy*s.stride+dx]
			f[i], f[i+1] = v*px, v*py
			i += 2
		}
	}
	for _, d := range [waveTaps]int{0, -1, 1} {
		v := l[k+d]
		for j := range waves {
			f[i] = v * w[j]
			i++
		}
	}
	v := l[k]
	for _, p := range [places]float32{px, py, px * px, px * py, py * py} {
		for j := range waves {
			f[i] = v * w[j] * p
			i++
		}
	}
	for _, v := range [sideTaps]float32{l[k-s.stride], l[k+s.stride], s.light[(c+1)%3][k], s.light[(c+2)%3][k]} {
		for j := range slow {
			f[i] = v * w[j]
			i++
		}
	}
}

// A wanted is a row of a prediction: what is seen, and how it changes as the photo moves, by the phase of
// the mosaic alone.
type wanted struct{ light, du, dv []float32 }

// predictRow predicts a row of channel c: the dot product of Kernel and feature, with the waves last.
// Without waves (ws is nil) du and dv are zero.
func (o *Optics) predictRow(s *screen, c, y int, ws [][waves]float32, to wanted) {
	kern, out := o.Kernel[c], to.light
	py := o.y[y]
	l := s.light[c]
	base := s.at(0, y)
	clear(out)
	clear(to.du)
	clear(to.dv)
	i := 0
	shift := kern[same+2*cross:]
	for dy := -2; dy <= 2; dy++ {
		for dx := -2; dx <= 2; dx++ {
			row := l[base+dy*s.stride+dx:][:len(out)]
			k := kern[i]
			i++
			if dx < -1 || dx > 1 || dy < -1 || dy > 1 {
				for x := range out {
					out[x] += k * row[x]
				}
				continue
			}
			j := 2 * ((dy+1)*3 + dx + 1)
			k += shift[j+1] * py
			kx := shift[j]
			for x := range out {
				out[x] += (k + kx*o.x[x]) * row[x]
			}
		}
	}
	for d := range 3 {
		if d == c {
			continue
		}
		for dy := -1; dy <= 1; dy++ {
			row := s.light[d][base+dy*s.stride-1:][:len(out)+2]
			k0, k1, k2 := kern[i], kern[i+1], kern[i+2]
			i += 3
			for x := range out {
				out[x] += k0*row[x] + k1*row[x+1] + k2*row[x+2]
			}
		}
	}
	if ws == nil {
		return
	}
	taps := kern[same+2*cross+shifting:]
	var t [waveTaps + places][waves]float32
	for a := range t {
		copy(t[a][:], taps[a*waves:])
	}
	for j := range waves {
		t[0][j] += py * (t[4][j] + py*t[7][j])
		t[3][j] += py * t[6][j]
	}
	var u [sideTaps][slow]float32
	for a := range u {
		copy(u[a][:], taps[(waveTaps+places)*waves+a*slow:])
	}
	mid, up, down := l[base-1:][:len(out)+2], l[base-s.stride:][:len(out)], l[base+s.stride:][:len(out)]
	one, two := s.light[(c+1)%3][base:][:len(out)], s.light[(c+2)%3][base:][:len(out)]
	for x := range out {
		b, a, e := mid[x], mid[x+1], mid[x+2]
		p, q, r, t2 := up[x], down[x], one[x], two[x]
		if a+b+e+p+q+r+t2 == 0 {
			continue
		}
		px := o.x[x]
		ax := a * px
		axx := ax * px
		w := &ws[x]
		var g [waves]float32
		for j := range waves {
			g[j] = a*t[0][j] + b*t[1][j] + e*t[2][j] + ax*t[3][j] + axx*t[5][j]
		}
		for j := range slow {
			g[j] += p*u[0][j] + q*u[1][j] + r*u[2][j] + t2*u[3][j]
		}
		var sum float32
		for j := range waves {
			sum += w[j] * g[j]
		}
		out[x] += sum
		// A wave cos(pi(mu+nv)) changes by -pi m sin with u, and so on: see phase for the order.
		d0, d1 := g[1]*w[0]-g[0]*w[1], g[3]*w[2]-g[2]*w[3]
		d4, d6 := g[5]*w[4]-g[4]*w[5], g[7]*w[6]-g[6]*w[7]
		d8, d10 := g[9]*w[8]-g[8]*w[9], g[11]*w[10]-g[10]*w[11]
		to.du[x] = math.Pi * (d0 + d4 + d6 + 2*d8)
		to.dv[x] = math.Pi * (d1 + d4 - d6 + 2*d10)
	}
}
