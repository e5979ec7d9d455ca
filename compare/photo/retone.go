package photo

import (
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// The tone chart shows each code in a place or two, so that a tone is known to what moiré and the flat field leave there: some
// 0.4 % of white, which is seen on a button. Cards show many colours in many places and correct it.
const (
	knots     = 10    // between no light and white, evenly in the square root of light
	toneStray = 0.005 // by how much a tone may well be off, as a share of white
	firm      = 1e12  // a prior that admits of nothing else
)

// knotsOf gives the two knots that a light lies between, and how near to the second it is.
func knotsOf(light float32) (first int, share float64) {
	t := math.Sqrt(float64(min(max(light, 0), 1))) * knots
	first = min(int(t), knots-1)
	return first, t - float64(first)
}

// retone corrects the panel's tones, and the light of the screens shown, by what even areas leave over, and takes that out of it.
func (o *Optics) retone(shown []*screen, views []*sight) {
	const tones, n = 3 * (knots + 1), 3*(knots+1) + 9
	mix, _ := invert(o.Colour)
	// terms are by how much knots show in camera channel c at a place: two of each of the panel's channels. What the kernel mixes
	// too little or too much of them follows, so that it is not taken for a tone.
	terms := func(s *screen, at, c int, of *[9]int, by *[9]float64) {
		for d := range 3 {
			i, share := knotsOf(s.light[d][at])
			of[2*d], of[2*d+1] = d*(knots+1)+i, d*(knots+1)+i+1
			by[2*d], by[2*d+1] = mix[c][d]*(1-share), mix[c][d]*share
			of[6+d], by[6+d] = tones+3*c+d, float64(s.light[d][at])
		}
	}
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	parts := make([][n][n + 1]float64, len(views))
	parallel(len(views), func(lo, hi int) {
		var of [9]int
		var by [9]float64
		for i := lo; i < hi; i++ {
			s, v, a := shown[i], views[i], &parts[i]
			// A photo's offset and gain are its own: sums with one and with what is wanted, of each camera channel, take them out.
			var one, gain [3][n + 3]float64
			for k := i % 3; k < w*h; k += 3 {
				at := s.at(k%w, k/w)
				if s.vary[0][at]+s.vary[1][at]+s.vary[2][at] > 1e-4 {
					continue
				}
				for c := range 3 {
					e, noise := float64(v.left[c][k]), float64(v.noise[c][k])
					if e*e > 16*noise {
						continue
					}
					terms(s, at, c, &of, &by)
					want := float64(v.want[c][k])
					for j, x := range [3]float64{e, 1, want} {
						one[c][n+j] += x / noise
						gain[c][n+j] += want * x / noise
					}
					for p, j := range of {
						one[c][j] += by[p] / noise
						gain[c][j] += by[p] * want / noise
						for q, l := range of {
							a[j][l] += by[p] * by[q] / noise
						}
						a[j][n] += by[p] * e / noise
					}
				}
			}
			for c := range 3 {
				f, g := &one[c], &gain[c]
				if f[n+1] == 0 {
					continue
				}
				share := f[n+2] / f[n+1]
				for j := range g {
					g[j] -= share * f[j]
				}
				for j := range a {
					for l := range a[j] {
						a[j][l] -= f[j]*f[l]/f[n+1] + g[j]*g[l]/max(g[n+2], 1e-9)
					}
				}
			}
		}
	})
	a := make([][]float64, n)
	for j := range a {
		a[j] = make([]float64, n+1)
		for i := range parts {
			for l, q := range parts[i][j] {
				a[j][l] += q
			}
		}
		if j < tones && j%(knots+1) == 0 {
			a[j][j] += firm
		}
		a[j][j] += 1 / (toneStray * toneStray)
	}
	for j := range tones { // all codes alike by a share of their light: that is the kernel's
		for l := range tones {
			if j/(knots+1) == l/(knots+1) {
				p, q := float64(j%(knots+1))/knots, float64(l%(knots+1))/knots
				a[j][l] += firm * p * p * q * q
			}
		}
	}
	more, ok := rectify.Solve(a)
	if !ok {
		return
	}
	for i, v := range views {
		parallel(h, func(lo, hi int) {
			var of [9]int
			var by [9]float64
			for y := lo; y < hi; y++ {
				for x := range w {
					for c := range 3 {
						terms(shown[i], shown[i].at(x, y), c, &of, &by)
						for p, j := range of[:6] {
							v.left[c][y*w+x] -= float32(by[p] * more[j])
						}
					}
				}
			}
		})
	}
	corrected := func(d int, light float32) float32 {
		i, share := knotsOf(light)
		return max(0, light+float32(more[d*(knots+1)+i]*(1-share)+more[d*(knots+1)+i+1]*share))
	}
	for d := range o.Tones {
		for code := range o.Tones[d] {
			o.Tones[d][code] = corrected(d, o.Tones[d][code])
			if code > 0 {
				o.Tones[d][code] = max(o.Tones[d][code], o.Tones[d][code-1]) // a panel's tone rises
			}
		}
		for _, s := range shown {
			for k, l := range s.light[d] {
				s.light[d][k] = corrected(d, l)
			}
		}
	}
	for _, s := range shown {
		s.spread()
	}
}
