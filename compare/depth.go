package compare

import (
	"math"
	"sort"
)

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
