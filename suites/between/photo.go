package between

import (
	"image"
	"math"
	"slices"

	"github.com/disintegration/imaging"
)

// Photos of a panel, rectified, are told by their noise: in no dump nearly every pixel differs from its neighbour, and
// nearly every one from the same pixel of the other picture.
const noisyShare = 20 // one pixel in so many may be equal

// photos reports whether both pictures are photos.
func photos(before, after image.Image) bool {
	b, a := imaging.Clone(before), imaging.Clone(after)
	if b.Rect != a.Rect || b.Rect.Dx() < 32 || b.Rect.Dy() < 32 {
		return false
	}
	n, alike := 0, [3]int{}
	for y := 1; y < b.Rect.Dy(); y += 3 { // a third of the rows tell as much
		for x := 1; x < b.Rect.Dx(); x++ {
			i := y*b.Stride + 4*x
			n++
			for k, equal := range [3]bool{same(b.Pix[i:], b.Pix[i-4:]), same(a.Pix[i:], a.Pix[i-4:]), same(b.Pix[i:], a.Pix[i:])} {
				if equal {
					alike[k]++
				}
			}
		}
		if y > 30 && slices.Max(alike[:])*noisyShare > n {
			return false
		}
	}
	return slices.Max(alike[:])*noisyShare <= n
}

func same(p, q []uint8) bool { return p[0] == q[0] && p[1] == q[1] && p[2] == q[2] }

// Of photos, what noise and optics may do is forgiven: so many times the spread of all differences, and no less than
// some levels.
const (
	noiseTimes = 6
	noiseLeast = 24
	noiseBlur  = 1.5 // px: what is thinner is not held against anything
)

// developed brings the light of after to that of before and gives it as before is where the two differ by no more than
// noise, a blur and half a pixel explain.
func developed(before, after image.Image) (image.Image, image.Image) {
	was := imaging.Clone(before)
	is := relit(was, imaging.Clone(after))
	soft, hard := imaging.Blur(was, noiseBlur), imaging.Blur(is, noiseBlur)
	w, h := was.Rect.Dx(), was.Rect.Dy()
	var slack [3]int
	for c := range slack {
		diffs := make([]int, 0, w*h)
		for i := c; i < len(soft.Pix); i += 4 {
			d := int(soft.Pix[i]) - int(hard.Pix[i])
			diffs = append(diffs, max(d, -d))
		}
		slices.Sort(diffs)
		slack[c] = max(noiseLeast, noiseTimes*diffs[len(diffs)/2]) // the median is that of what did not change
	}
	changed := make([]bool, w*h)
	for y := range h {
		for x := range w {
			for c := range 3 {
				lo, hi := 255, 0
				for v := max(0, y-1); v <= min(h-1, y+1); v++ {
					for u := max(0, x-1); u <= min(w-1, x+1); u++ {
						p := int(soft.Pix[v*soft.Stride+4*u+c])
						lo, hi = min(lo, p), max(hi, p)
					}
				}
				p := int(hard.Pix[y*hard.Stride+4*x+c])
				if p < lo-slack[c] || p > hi+slack[c] {
					changed[y*w+x] = true
				}
			}
		}
	}
	out := imaging.Clone(was)
	for i, c := range changed {
		if c {
			copy(out.Pix[4*i:4*i+4], hard.Pix[4*i:4*i+4])
		}
	}
	return was, out
}

// relit fits after to before, channel by channel, by a gain and an offset: least squares over means of 8x8 px, those that
// fit worst left out in three rounds.
func relit(was, is *image.NRGBA) *image.NRGBA {
	w, h := max(1, was.Rect.Dx()/8), max(1, was.Rect.Dy()/8)
	p, q := imaging.Resize(was, w, h, imaging.Box), imaging.Resize(is, w, h, imaging.Box)
	var table [3][256]uint8
	for c := range table {
		gain, offset := 1.0, 0.0
		limit := math.Inf(1)
		for range 4 {
			var n, sx, sy, sxx, sxy float64
			var off []float64
			for i := c; i < len(p.Pix); i += 4 {
				x, y := float64(q.Pix[i]), float64(p.Pix[i])
				d := math.Abs(gain*x + offset - y)
				off = append(off, d)
				if d <= limit {
					n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
				}
			}
			if d := n*sxx - sx*sx; n >= 8 && d > 1 {
				gain = math.Min(4, math.Max(0.25, (n*sxy-sx*sy)/d))
				offset = (sy - gain*sx) / n
			}
			slices.Sort(off)
			limit = math.Max(2, 3*off[len(off)/2])
		}
		for v := range table[c] {
			table[c][v] = uint8(math.Max(0, math.Min(255, math.Round(gain*float64(v)+offset))))
		}
	}
	for i := range is.Pix {
		if i%4 != 3 {
			is.Pix[i] = table[i%4][is.Pix[i]]
		}
	}
	return is
}
