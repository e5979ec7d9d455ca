package photo

import (
	"math"
	"sort"
)

// findRipple looks for bands of pulsed backlight: a wave along the photo's rows of one period, but of
// another phase in every photo. The powers of all photos are added; a period counts if
// its power stands well above that of the others, and if the phases are not those of moiré: see tied. What rises up to the longest
// period is no wave but a slope: light that a photo has more of at its head than at its foot.
func (o *Optics) findRipple(views []*sight) {
	const lo, hi = 10.0, 500.0
	type profile struct{ v, r, weight []float64 }
	var all []profile
	height := o.Geometry.Photo[1]
	const bin = 2
	for _, s := range views {
		num, den := make([]float64, height/bin+1), make([]float64, height/bin+1)
		for k, q := range s.want[1] {
			row := int(float64(o.sampler.V[k])+s.Move.Y) / bin
			if row < 0 || row >= len(num) {
				continue
			}
			e := s.left[1][k]
			wt := 1 / float64(s.noise[1][k])
			if float64(e*e)*wt > 16 {
				continue
			}
			num[row] += wt * float64(e*q)
			den[row] += wt * float64(q*q)
		}
		var p profile
		for i := range num {
			if den[i] > 0 {
				p.v, p.r, p.weight = append(p.v, (float64(i)+0.5)*bin), append(p.r, num[i]/den[i]), append(p.weight, den[i])
			}
		}
		all = append(all, p)
	}
	type peak struct {
		period, power, amplitude float64
		phase                    []float64
	}
	var spectrum []peak
	for f := 1 / hi; f < 1/lo; f += 1 / (4.0 * 1080) {
		var power, amplitude float64
		phase := make([]float64, len(all))
		for j, p := range all {
			var cc, ss, cs, rc, rs, rr float64
			for i, v := range p.v {
				s, c := math.Sincos(2 * math.Pi * f * v)
				w := p.weight[i]
				cc, ss, cs, rc, rs, rr = cc+w*c*c, ss+w*s*s, cs+w*c*s, rc+w*p.r[i]*c, rs+w*p.r[i]*s, rr+w*p.r[i]*p.r[i]
			}
			det := cc*ss - cs*cs
			if det <= 1e-9*cc*ss || rr == 0 {
				continue
			}
			a, b := (rc*ss-rs*cs)/det, (rs*cc-rc*cs)/det
			power += (a*rc + b*rs) / rr
			amplitude += math.Hypot(a, b) / float64(len(all))
			phase[j] = math.Atan2(b, a)
		}
		spectrum = append(spectrum, peak{1 / f, power / float64(len(all)), amplitude, phase})
	}
	sort.Slice(spectrum, func(i, j int) bool { return spectrum[i].power > spectrum[j].power })
	if best, typical := spectrum[0], spectrum[len(spectrum)/2]; best.period < hi && best.power > 0.15 && best.power > 5*typical.power && best.amplitude > 0.0008 && !tied(best.phase, views) {
		o.Period, o.Ripple = best.period, best.amplitude
		o.setBands()
	}
}

// tied reports whether the phases of a wave follow from where the photos stand. Those of moiré do: a movement by one
// photo pixel turns each of its waves by a multiple of pi. Pulses of a backlight know nothing of the rig.
func tied(phase []float64, views []*sight) bool {
	most := 0.0
	for m := -highestM; m <= highestM; m++ {
		for n := -highestM; n <= highestM; n++ {
			var c, s float64
			for i, v := range views {
				sin, cos := math.Sincos(phase[i] + math.Pi*(float64(m)*v.Move.X+float64(n)*v.Move.Y))
				c, s = c+cos, s+sin
			}
			most = max(most, math.Hypot(c, s)/float64(len(views)))
		}
	}
	return most > 0.9
}

// setBands makes cosine and sine of the bands' angle at every panel pixel, for a photo that stands where it was aligned.
func (o *Optics) setBands() {
	n := len(o.sampler.V)
	for i := range o.bands {
		if len(o.bands[i]) != n {
			o.bands[i] = make([]float32, n)
		}
	}
	for k, v := range o.sampler.V {
		s, c := math.Sincos(2 * math.Pi * float64(v) / o.Period)
		o.bands[0][k], o.bands[1][k] = float32(c), float32(s)
	}
}
