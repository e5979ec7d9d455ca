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

// feature fills f with the features of channel c at (x, y); it is the plain form of predictor.row.
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
