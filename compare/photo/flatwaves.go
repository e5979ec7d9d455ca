package photo

import "github.com/fascia-bench/fascia/capture/rectify"

// Uneven light stays with the panel, while moiré moves as the rig does. But photos from which a flat field is learnt stand within a
// quarter of a photo pixel, and there moiré of a long beat looks like uneven light: with it in the flat field photos half a
// pixel further on did not fit (at 0.8 px on a rig of 2.06 photo px a panel px a strain of five, where one is due). So a flat field may vary
// in every way but that of the waves.
const (
	lightDegree   = 4
	lightTerms    = (lightDegree + 1) * (lightDegree + 2) / 2 // of light that is no moiré
	strengthTerms = 6                                         // of a wave's strength, which varies over the panel as a polynomial of the second degree
	flatTerms     = lightTerms + waves*strengthTerms
)

// powers fills f with the products of powers of x and y up to a degree, in order of it.
func powers(x, y float64, degree int, f []float64) {
	f[0] = 1
	for n, i := 1, 1; n <= degree; n++ {
		for range n { // those of one degree less, times x
			f[i] = f[i-n] * x
			i++
		}
		f[i] = f[i-n-1] * y
		i++
	}
}

// withoutWaves takes out of a plane, a share of light that varies round nothing, what waves explain that moiré has where photos stand as
// the bench was aligned.
func (o *Optics) withoutWaves(in []float32) []float32 {
	const every = 9 // of so many pixels of a row one is looked at
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	at := func(k int, f []float64) {
		powers(float64(o.x[k%w]), float64(o.y[k/w]), lightDegree, f)
		var of [waves]float32
		o.waveAt(k, 1, 0, 1, 0, &of)
		for i, v := range of {
			for j := range strengthTerms {
				f[lightTerms+i*strengthTerms+j] = float64(v) * f[j]
			}
		}
	}
	var parts [strips][flatTerms][flatTerms + 1]float64
	parallel(strips, func(lo, hi int) {
		f := make([]float64, flatTerms)
		for i := lo; i < hi; i++ {
			a := &parts[i]
			for y := max(2, h*i/strips); y < min(h-2, h*(i+1)/strips); y++ {
				for x := 2 + y*2%every; x < w-2; x += every {
					k := y*w + x
					at(k, f)
					for p, v := range f {
						for q := p; q < flatTerms; q++ {
							a[p][q] += v * f[q]
						}
						a[p][flatTerms] += v * float64(in[k])
					}
				}
			}
		}
	})
	sum := mirrored(flatTerms, func(p, q int) (sum float64) {
		for i := range parts {
			sum += parts[i][p][q]
		}
		return sum
	})
	// Where a wave hardly turns over the whole panel nothing tells the two apart, and it is left in.
	for p := lightTerms; p < flatTerms; p++ {
		sum[p][p] += 0.01 * sum[0][0]
	}
	out := make([]float32, len(in))
	copy(out, in)
	sol, ok := rectify.Solve(sum)
	if !ok {
		return out
	}
	parallel(h, func(lo, hi int) {
		f := make([]float64, flatTerms)
		for k := lo * w; k < hi*w; k++ {
			at(k, f)
			for i, s := range sol[lightTerms:] {
				out[k] -= float32(s * f[lightTerms+i])
			}
		}
	})
	return out
}
