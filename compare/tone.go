package compare

import (
	"math"
	"sort"
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
	if total == 0 || math.Sqrt(math.Max(0, spread)/total) > toneSlack {
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

// depths are the pixel formats sought, poorest first: bits of red, green and blue. RGB332
// counts as 3 bits and RGB565 as 5.
var depths = []struct {
	channel [3]int
	bits    int
}{
	{[3]int{1, 1, 1}, 1}, {[3]int{2, 2, 2}, 2}, {[3]int{3, 3, 2}, 3}, {[3]int{3, 3, 3}, 3}, {[3]int{4, 4, 4}, 4},
	{[3]int{5, 5, 5}, 5}, {[3]int{5, 6, 5}, 5}, {[3]int{6, 6, 6}, 6},
}

// fewerColours: the capture has fewer bits a channel than the golden, and is the golden
// rounded to them or dithered with them.
func (p *pair) fewerColours() (fault, bool) {
	for _, d := range depths {
		for _, on := range scales(d.channel) {
			cOff, gOff, n := 0, 0, 0
			for i, c := range p.c.px {
				if !p.counts(i) {
					continue
				}
				n++
				if !allOn(on, c) {
					if cOff++; cOff*100 > len(p.c.px) { // more than its share, whatever the rest shows
						break
					}
				}
				if !allOn(on, p.g.px[i]) {
					gOff++
				}
			}
			if cOff*100 > n {
				continue
			}
			if gOff*50 < n && gOff*4 < p.changed {
				return fault{}, false // the golden has no more bits than that
			}
			left, ok := p.roundedTo(d.channel)
			if !ok && !p.ditheredTo(d.bits) {
				return fault{}, false
			}
			return fault{cause: whole("fewer-colours", Detail{"bits": d.bits}), left: left}, true
		}
	}
	return fault{}, false
}

// A scale marks the 8-bit values of each channel that a picture of fewer bits can show.
type scale [3]*[256]bool

// scales are the ways in which levels of so many bits come to stand in a capture: widened to 8 bits
// at once, or kept in the high bits of RGB565 or spread over them, which the panel then widens.
func scales(bits [3]int) []scale {
	var direct, high, spread scale
	for k, b := range bits {
		direct[k], high[k], spread[k] = new([256]bool), new([256]bool), new([256]bool)
		top, wide := 1<<b-1, []int{5, 6, 5}[k]
		for v := range top + 1 {
			for _, eight := range []int{(v*255 + top/2) / top, v * 255 / top, v << (8 - b), replicate(v, b, 8)} {
				direct[k][eight] = true
			}
			high[k][replicate(replicate(v<<8>>b, 8, wide), wide, 8)] = true
			spread[k][replicate(replicate(v, b, wide), wide, 8)] = true
		}
	}
	if bits[0] >= 5 {
		return []scale{direct}
	}
	return []scale{direct, high, spread}
}

// replicate widens or narrows a level: the bits from the top again and again, as far as there is room.
func replicate(v, bits, to int) int {
	r := 0
	for b := to - bits; b > -bits; b -= bits {
		if b >= 0 {
			r |= v << b
		} else {
			r |= v >> -b
		}
	}
	return r
}

func allOn(on scale, c uint32) bool {
	return on[0][c>>16&0xff] && on[1][c>>8&0xff] && on[2][c&0xff]
}

// roundedTo reports whether each pixel is within one step of the golden.
func (p *pair) roundedTo(bits [3]int) (left int, ok bool) {
	n := 0
	for i, c := range p.c.px {
		if !p.counts(i) {
			continue
		}
		n++
		for k, b := range bits {
			step := 255.0 / float64(int(1)<<b-1)
			was, is := float64(p.g.px[i]>>(16-8*k)&0xff), float64(c>>(16-8*k)&0xff)
			// Rounding errs by half a step; cutting off keeps the top bits.
			cut := int(was)>>(8-b) == int(math.Round(is/step)) || int(was)>>(8-b) == int(is)>>(8-b)
			if math.Abs(was-is) > step/2+5 && !cut {
				left++
				break
			}
		}
	}
	return left, left*50 <= n
}

// ditheredTo reports whether the mean of blocks that changed is kept, as dithering does.
func (p *pair) ditheredTo(bits int) bool {
	const side = 8
	step := 255.0 / float64(int(1)<<bits-1)
	var errs []float64
	for y := 0; y+side <= p.h; y += side {
		for x := 0; x+side <= p.w; x += side {
			var d [3]float64
			changed := 0
			for j := y; j < y+side; j++ {
				for i := j*p.w + x; i < j*p.w+x+side; i++ {
					if p.diff[i] {
						changed++
					}
					for k := range d {
						d[k] += float64(p.g.px[i]>>(8*k)&0xff) - float64(p.c.px[i]>>(8*k)&0xff)
					}
				}
			}
			if changed < side {
				continue
			}
			for _, v := range d {
				errs = append(errs, math.Abs(v)/(side*side))
			}
		}
	}
	far := 0 // pixels that dithering would not have taken so far
	for i, c := range p.c.px {
		if p.counts(i) && float64(colourStep(c, p.g.px[i])) > 1.6*step+4 {
			far++
		}
	}
	if len(errs) == 0 || far*20 > len(p.c.px) {
		return false
	}
	sort.Float64s(errs)
	// Most blocks keep their mean to a fraction of a step; error diffusion is the worst.
	return errs[len(errs)*8/10] <= 0.12*step+4
}
