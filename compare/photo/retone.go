package photo

import (
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// The tone chart shows each code in a place or two, so that a tone is known to what moiré and the flat field leave there: some
// 0.4 % of white, which is seen on a button. Cards show many colours in many places and correct it.
const (
	knots     = 10              // between no light and white, evenly in the square root of light
	perTone   = knots + 1       // unknowns of a channel's tone: the light to be added at each knot
	toneTerms = 3*perTone + 3*3 // and by how much the kernel mixes too little or too much, which is not to be taken for a tone
	toneStray = 0.005           // by how much a tone may well be off, as a share of white
	firm      = 1e12            // a prior that admits of nothing else
)

// toneSums are normal equations; the last column is of what is left over.
type toneSums [toneTerms][toneTerms + 1]float64

// knotsOf gives the two knots that a light lies between, and how near to the second it is.
func knotsOf(light float32) (first int, share float64) {
	t := math.Sqrt(float64(min(max(light, 0), 1))) * knots
	first = min(int(t), knots-1)
	return first, t - float64(first)
}

// A toner corrects tones; mix is how the camera's channels see the panel's.
type toner struct{ mix [3][3]float64 }

// terms gives the unknowns that show in camera channel c at a place, and by how much: two knots of each of the panel's channels,
// and the kernel's of each.
func (t *toner) terms(s *screen, at, c int) (of [9]int, by [9]float64) {
	for d := range 3 {
		i, share := knotsOf(s.light[d][at])
		of[2*d], of[2*d+1] = d*perTone+i, d*perTone+i+1
		by[2*d], by[2*d+1] = t.mix[c][d]*(1-share), t.mix[c][d]*share
		of[6+d], by[6+d] = 3*perTone+3*c+d, float64(s.light[d][at])
	}
	return of, by
}

// tally sums up every third even pixel of a photo from one on. The photo's offset and gain are its own, and are taken out.
func (t *toner) tally(s *screen, v *sight, from int, a *toneSums) {
	const left, ones, wanted = toneTerms, toneTerms + 1, toneTerms + 2
	var one, gain [3][toneTerms + 3]float64 // products with one and with what is wanted, by camera channel
	for k := from; k < s.w*s.h; k += 3 {
		at := s.at(k%s.w, k/s.w)
		if s.vary[0][at]+s.vary[1][at]+s.vary[2][at] > 1e-4 {
			continue
		}
		for c := range 3 {
			e, want, weight := float64(v.left[c][k]), float64(v.want[c][k]), 1/float64(v.noise[c][k])
			if e*e*weight > 16 {
				continue
			}
			f, g := &one[c], &gain[c]
			f[left], f[ones], f[wanted] = f[left]+e*weight, f[ones]+weight, f[wanted]+want*weight
			g[left], g[ones], g[wanted] = g[left]+want*e*weight, g[ones]+want*weight, g[wanted]+want*want*weight
			of, by := t.terms(s, at, c)
			for p, j := range of {
				w := by[p] * weight
				f[j], g[j] = f[j]+w, g[j]+w*want
				for q, l := range of {
					a[j][l] += w * by[q]
				}
				a[j][left] += w * e
			}
		}
	}
	for c := range 3 {
		f, g := &one[c], &gain[c]
		if f[ones] == 0 {
			continue
		}
		share := f[wanted] / f[ones]
		for j := range g {
			g[j] -= share * f[j]
		}
		for j := range a {
			for l := range a[j] {
				a[j][l] -= f[j]*f[l]/f[ones] + g[j]*g[l]/max(g[wanted], 1e-9)
			}
		}
	}
}

// solve gives the unknowns. No light stays none, and a share of their light by which all codes are off is the kernel's.
func (a *toneSums) solve() ([]float64, bool) {
	rows := make([][]float64, toneTerms)
	for j := range a {
		rows[j] = a[j][:]
		rows[j][j] += 1 / (toneStray * toneStray)
	}
	for d := range 3 {
		rows[d*perTone][d*perTone] += firm
		for j := range perTone {
			for l := range perTone {
				p, q := float64(j)/knots, float64(l)/knots
				rows[d*perTone+j][d*perTone+l] += firm * p * p * q * q
			}
		}
	}
	return rectify.Solve(rows)
}

// retone corrects the panel's tones, and the light of the screens shown, by what even areas leave over, and takes that out of it.
func (o *Optics) retone(shown []*screen, views []*sight) {
	mix, _ := invert(o.Colour)
	t := &toner{mix}
	parts := make([]toneSums, len(views))
	parallel(len(views), func(lo, hi int) {
		for i := lo; i < hi; i++ {
			t.tally(shown[i], views[i], i%3, &parts[i])
		}
	})
	var sum toneSums
	for i := range parts {
		for j := range sum {
			for l := range sum[j] {
				sum[j][l] += parts[i][j][l]
			}
		}
	}
	more, ok := sum.solve()
	if !ok {
		return
	}
	for i, v := range views {
		s := shown[i]
		parallel(s.h, func(lo, hi int) {
			for k := lo * s.w; k < hi*s.w; k++ {
				for c := range 3 {
					of, by := t.terms(s, s.at(k%s.w, k/s.w), c)
					for p, j := range of[:6] {
						v.left[c][k] -= float32(by[p] * more[j])
					}
				}
			}
		})
	}
	for d := range o.Tones {
		correct := func(light float32) float32 {
			i, share := knotsOf(light)
			return max(0, light+float32(more[d*perTone+i]*(1-share)+more[d*perTone+i+1]*share))
		}
		tone := &o.Tones[d]
		for code := range tone {
			tone[code] = correct(tone[code])
			tone[code] = max(tone[code], tone[max(code-1, 0)]) // a panel's tone rises
		}
		for _, s := range shown {
			for k, l := range s.light[d] {
				s.light[d][k] = correct(l)
			}
		}
	}
	for _, s := range shown {
		s.spread()
	}
}
