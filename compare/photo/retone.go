package photo

import (
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// The tone chart shows each code in a place or two, so that a tone is known to what moiré and the flat field leave there: some
// 0.4 % of white, which is seen on a button. Cards show many colours in many places and correct it.
const (
	knots     = 10   // between no light and white, evenly in the square root of light; none at the ends, which define the scale
	toneStray = 0.01 // by how much a tone may well be off, as a share of white
)

// knotsOf gives the two knots that a light lies between, and how near to the second it is.
func knotsOf(light float32) (first int, share float64) {
	t := math.Sqrt(float64(min(max(light, 0), 1))) * knots
	first = min(int(t), knots-1)
	return first, t - float64(first)
}

// retone corrects the panel's tones, and the light of the screens shown, by what even areas leave over, and takes that out of it.
func (o *Optics) retone(shown []*screen, views []*sight) {
	const n = 3 * (knots + 1)
	mix, _ := invert(o.Colour)
	// terms are by how much knots show in camera channel c at a place: two of each of the panel's channels.
	terms := func(s *screen, at, c int, of *[6]int, by *[6]float64) {
		for d := range 3 {
			i, share := knotsOf(s.light[d][at])
			of[2*d], of[2*d+1] = d*(knots+1)+i, d*(knots+1)+i+1
			by[2*d], by[2*d+1] = mix[c][d]*(1-share), mix[c][d]*share
		}
	}
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	parts := make([][n][n + 1]float64, len(views))
	parallel(len(views), func(lo, hi int) {
		var of [6]int
		var by [6]float64
		for i := lo; i < hi; i++ {
			s, v, a := shown[i], views[i], &parts[i]
			// A photo's gain is its own: sums with what is wanted, of each camera channel, take it out.
			var gain [3][n + 1]float64
			var square [3]float64
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
					square[c] += want * want / noise
					gain[c][n] += want * e / noise
					for p, j := range of {
						gain[c][j] += by[p] * want / noise
						for q, l := range of {
							a[j][l] += by[p] * by[q] / noise
						}
						a[j][n] += by[p] * e / noise
					}
				}
			}
			for c := range 3 {
				for j := range a {
					for l := range a[j] {
						a[j][l] -= gain[c][j] * gain[c][l] / max(square[c], 1e-9)
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
		if end := j % (knots + 1); end == 0 || end == knots {
			a[j][j] += 1e12
		} else {
			a[j][j] += 1 / (toneStray * toneStray)
		}
	}
	more, ok := rectify.Solve(a)
	if !ok {
		return
	}
	for i, v := range views {
		parallel(h, func(lo, hi int) {
			var of [6]int
			var by [6]float64
			for y := lo; y < hi; y++ {
				for x := range w {
					for c := range 3 {
						terms(shown[i], shown[i].at(x, y), c, &of, &by)
						for p, j := range of {
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
