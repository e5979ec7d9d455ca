package photo

import (
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// Uneven light stays with the panel, while moiré moves as the rig does. But photos from which a flat field is learnt stand within a
// quarter of a photo pixel, and there moiré of a long beat looks like uneven light: with it in the flat field photos half a
// pixel further on did not fit (nine standard deviations at 0.8 px on a rig of 2.06 photo px a panel px). So a flat field may vary
// in every way but that of the waves.
const (
	standingDegree = 4
	lightTerms     = (standingDegree + 1) * (standingDegree + 2) / 2 // of light that is no moiré
	strengthTerms  = 6                                               // of a wave's strength, which varies over the panel as a polynomial of the second degree
	standingTerms  = lightTerms + waves*strengthTerms
)

// powers fills f with the products of powers of x and y up to a degree, in order of it.
func powers(x, y float64, degree int, f []float64) {
	i := 0
	for n := 0; n <= degree; n++ {
		for k := 0; k <= n; k++ {
			f[i] = math.Pow(x, float64(n-k)) * math.Pow(y, float64(k))
			i++
		}
	}
}

// withoutWaves takes out of a plane, a share of light that varies round nothing, what waves explain that moiré has where photos stand as
// the bench was aligned.
func (o *Optics) withoutWaves(in []float32) []float32 {
	const far = 3 // of every so many pixels one is looked at
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	at := func(k int, f []float64) {
		powers(float64(o.x[k%w]), float64(o.y[k/w]), standingDegree, f)
		var of [waves]float32
		o.waveAt(k, 1, 0, 1, 0, &of)
		for i, v := range of {
			for j := range strengthTerms {
				f[lightTerms+i*strengthTerms+j] = float64(v) * f[j]
			}
		}
	}
	var parts [strips][standingTerms][standingTerms + 1]float64
	parallel(strips, func(lo, hi int) {
		f := make([]float64, standingTerms)
		for i := lo; i < hi; i++ {
			a := &parts[i]
			for y := max(2, h*i/strips); y < min(h-2, h*(i+1)/strips); y++ {
				for x := 2 + y*2%(far*far); x < w-2; x += far * far {
					k := y*w + x
					at(k, f)
					for p, v := range f {
						for q := p; q < standingTerms; q++ {
							a[p][q] += v * f[q]
						}
						a[p][standingTerms] += v * float64(in[k])
					}
				}
			}
		}
	})
	sum := make([][]float64, standingTerms)
	for p := range sum {
		sum[p] = make([]float64, standingTerms+1)
	}
	for p := range sum {
		for i := range parts {
			for q := range standingTerms {
				sum[p][q] += parts[i][min(p, q)][max(p, q)]
			}
			sum[p][standingTerms] += parts[i][p][standingTerms]
		}
	}
	// Where a wave hardly turns over the whole panel nothing tells the two apart, and it is left in.
	for p := lightTerms; p < standingTerms; p++ {
		sum[p][p] += 0.01 * sum[0][0]
	}
	out := make([]float32, len(in))
	copy(out, in)
	sol, ok := rectify.Solve(sum)
	if !ok {
		return out
	}
	parallel(h, func(lo, hi int) {
		f := make([]float64, standingTerms)
		for k := lo * w; k < hi*w; k++ {
			at(k, f)
			for i, s := range sol[lightTerms:] {
				out[k] -= float32(s * f[lightTerms+i])
			}
		}
	})
	return out
}
