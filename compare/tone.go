package compare

import (
	"math"
)

// toneSlack is the error, in levels, that rounding to 5 bits a channel leaves on a tone
// curve: half a step of golden and capture each, and a truncating conversion.
const toneSlack = 9

// tone: one rising curve for all three channels, capture = 255 gain (golden/255)^gamma,
// or capture = gain golden + offset.
func (p *pair) tone() (fault, bool) {
	curve := p.toneCurve()
	gain, gamma, ok := fitPower(curve)
	if len(curve) == 2 {
		gain, ok = dimmed(curve)
		gamma = 1
	}
	if len(curve) < 3 && !ok {
		return fault{}, false
	}
	f := fault{cause: whole("tone", Detail{"gain": round3(gain), "gamma": round3(gamma)})}
	apply := func(v int) float64 { return math.Min(255, 255*gain*math.Pow(float64(v)/255, gamma)) }
	if !ok {
		var slope, offset float64
		if slope, offset, ok = fitLine(curve); !ok {
			return fault{}, false
		}
		f.cause = whole("tone", Detail{"gain": round3(slope), "gamma": 1.0, "offset": math.Round(offset)})
		apply = func(v int) float64 { return math.Max(0, math.Min(255, slope*float64(v)+offset)) }
	}
	var lut [256]float64
	for i := range lut {
		lut[i] = apply(i)
	}
	far := 0.0 // how far the curve takes a level that occurs
	for _, l := range curve {
		far = math.Max(far, math.Abs(lut[l.level]-float64(l.level)))
	}
	n, due, done := 0, 0, 0
	for i, c := range p.c.px {
		if !p.counts(i) {
			continue
		}
		n++
		g := p.g.px[i]
		// What the curve would change by more than a step of 5 bits must have changed.
		if shift := func(s int) bool { return math.Abs(lut[g>>s&0xff]-float64(g>>s&0xff)) >= 6 }; shift(0) || shift(8) || shift(16) {
			due++
			if p.diff[i] {
				done++
			}
		}
		for s := 0; s <= 16; s += 8 {
			if math.Abs(lut[g>>s&0xff]-float64(c>>s&0xff)) > toneSlack+2 {
				f.left++
				break
			}
		}
	}
	return f, f.left*20 <= n && f.left*4 <= p.changed && far >= 4 && done*10 >= due*8
}

// dimmed is the gain of a panel of black and one grey: black stays, and all of the grey is darker.
func dimmed(curve []levelMean) (gain float64, ok bool) {
	black, grey := curve[0], curve[1]
	ok = black.level < 8 && black.mean < 4 && grey.level >= 32 && grey.mean >= 8 && grey.mean < float64(grey.level)
	return grey.mean / float64(grey.level), ok
}

// levelMean is the mean of the capture's values where the golden has one value.
type levelMean struct {
	level, n int
	mean     float64
}

// toneCurve gives what each level of the golden, of any channel, became; nil if levels
// do not have one image each.
func (p *pair) toneCurve() []levelMean {
	var n [256]int
	var sum, sum2 [256]float64
	for i, c := range p.c.px {
		if !p.counts(i) {
			continue
		}
		g := p.g.px[i]
		for s := 0; s <= 16; s += 8 {
			v := float64(c >> s & 0xff)
			k := g >> s & 0xff
			n[k]++
			sum[k] += v
			sum2[k] += v * v
		}
	}
	var curve []levelMean
	var spread, total float64
	for k := range n {
		if n[k] == 0 {
			continue
		}
		m := sum[k] / float64(n[k])
		spread += sum2[k] - m*sum[k]
		total += float64(n[k])
		curve = append(curve, levelMean{k, n[k], m})
	}
	if math.Sqrt(math.Max(0, spread)/total) > toneSlack {
		return nil
	}
	return curve
}

// fitPower fits log(capture) = log gain + gamma log(golden) over the levels that are
// neither black nor at the end of the range, weighted by the root of their number, so
// that the ground does not drown the rest.
func fitPower(curve []levelMean) (gain, gamma float64, ok bool) {
	var sw, sx, sy, sxx, sxy float64
	used := 0
	for _, c := range curve {
		if c.level < 8 || c.mean < 4 || c.mean > 251 {
			continue
		}
		x, y := math.Log(float64(c.level)/255), math.Log(c.mean/255)
		// The error of a logarithm is that of the value over the value.
		w := math.Sqrt(float64(c.n)) * c.mean * c.mean
		used++
		sw, sx, sy, sxx, sxy = sw+w, sx+w*x, sy+w*y, sxx+w*x*x, sxy+w*x*y
	}
	det := sw*sxx - sx*sx
	if used < 2 || det <= 1e-9*sw*sw {
		return 0, 0, false
	}
	gamma = (sw*sxy - sx*sy) / det
	gain = math.Exp((sy - gamma*sx) / sw)
	if gamma < 0.2 || gamma > 5 || gain < 0.1 || gain > 10 {
		return 0, 0, false
	}
	return gain, gamma, fits(curve, func(v float64) float64 { return math.Min(255, 255*gain*math.Pow(v/255, gamma)) })
}

func fitLine(curve []levelMean) (slope, offset float64, ok bool) {
	var sw, sx, sy, sxx, sxy float64
	for _, c := range curve {
		if c.mean < 4 || c.mean > 251 {
			continue
		}
		w, x := math.Sqrt(float64(c.n)), float64(c.level)
		sw, sx, sy, sxx, sxy = sw+w, sx+w*x, sy+w*c.mean, sxx+w*x*x, sxy+w*x*c.mean
	}
	det := sw*sxx - sx*sx
	if det <= 1e-9*sw*sw {
		return 0, 0, false
	}
	slope = (sw*sxy - sx*sy) / det
	offset = (sy - slope*sx) / sw
	if slope < 0.1 || slope > 5 {
		return 0, 0, false
	}
	return slope, offset, fits(curve, func(v float64) float64 { return math.Max(0, math.Min(255, slope*v+offset)) })
}

// fits reports whether nearly all levels lie on the curve within the rounding.
func fits(curve []levelMean, f func(float64) float64) bool {
	bad, n := 0.0, 0.0
	for _, c := range curve {
		w := math.Sqrt(float64(c.n))
		n += w
		if math.Abs(f(float64(c.level))-c.mean) > toneSlack {
			bad += w
		}
	}
	return bad <= 0.05*n
}

func round3(v float64) float64 { return math.Round(v*1000) / 1000 }
