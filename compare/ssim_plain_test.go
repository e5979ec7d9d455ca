package compare

import (
	"image"
	"math"
)

// ssimPlain is the slow, plain version, which the fast ones are held against. It scores planes of
// w x h, both at least 11, and stores each score in out, (w-10) x (h-10), unless nil.
func ssimPlain(a, b []uint8, w, h int, out []float64) (mean, min float64, at image.Point) {
	ow, oh := w-2*ssimRadius, h-2*ssimRadius
	// Vertical sums of one output row: a, b, a*a, b*b, a*b.
	var col [5][]float64
	for k := range col {
		col[k] = make([]float64, w)
	}
	min = math.Inf(1)
	var sum float64
	for y := range oh {
		for k := range col {
			clear(col[k])
		}
		for t, wt := range ssimWindow {
			ra, rb := a[(y+t)*w:(y+t+1)*w], b[(y+t)*w:(y+t+1)*w]
			for x := range ra {
				va, vb := float64(ra[x]), float64(rb[x])
				col[0][x] += wt * va
				col[1][x] += wt * vb
				col[2][x] += wt * (va * va)
				col[3][x] += wt * (vb * vb)
				col[4][x] += wt * (va * vb)
			}
		}
		for x := range ow {
			var m [5]float64
			for t, wt := range ssimWindow {
				for k := range m {
					m[k] += wt * col[k][x+t]
				}
			}
			muA, muB := m[0], m[1]
			varA, varB, cov := m[2]-muA*muA, m[3]-muB*muB, m[4]-muA*muB
			s := (2*muA*muB + ssimC1) * (2*cov + ssimC2) /
				((muA*muA + muB*muB + ssimC1) * (varA + varB + ssimC2))
			if out != nil {
				out[y*ow+x] = s
			}
			sum += s
			if s < min {
				min, at = s, image.Pt(x+ssimRadius, y+ssimRadius)
			}
		}
	}
	return sum / float64(ow*oh), min, at
}
