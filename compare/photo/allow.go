package photo

import (
	"math"
	"slices"
)

// How a prediction errs near edges has a longer tail than any law of noise, and does not average out: the same
// golden errs the same way in every photo. So what a prediction may be off near content is allowed for in full,
// pixel by pixel, before anything is summed up. What is left then is noise, which is tested as such.
const (
	allowQuantile = 0.9998 // of the errors near edges
	allowMore     = 1.5    // that again, for contents worse than any that was learnt from
	fewEdges      = 50     // below that many a cell says nothing of its own
	someEdge      = 0.3    // sight.edge from which on a pixel counts as near content
	usualNoise    = 2.5    // standard deviations that noise is granted before anything is called an error
)

// learnAllow finds by cell how far predictions are off near content, in standard deviations there, each of all views
// of cards and trials. A cell also allows what its neighbours do.
func (o *Optics) learnAllow(views []*sight) {
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	column := columns(w)
	parallel(3, func(lo, hi int) {
		for c := lo; c < hi; c++ {
			var per [cells][]float64
			var all []float64
			for _, v := range views {
				for k, e := range v.edge {
					if e < someEdge {
						continue
					}
					z := math.Abs(float64(v.left[c][k] / sqrt32(v.noise[c][k])))
					q := max(0, z-usualNoise) / float64(e)
					cell := k/w*cellsY/h*cellsX + column[k%w]
					per[cell], all = append(per[cell], q), append(all, q)
				}
			}
			base := quantile(all, allowQuantile)
			var own [cells]float64
			for i := range per {
				own[i] = base
				if len(per[i]) > fewEdges {
					own[i] = max(base, quantile(per[i], allowQuantile))
				}
			}
			for i := range own {
				x, y := i%cellsX, i/cellsX
				o.Allow[c][i] = 0
				for j := max(0, y-1); j <= min(cellsY-1, y+1); j++ {
					for k := max(0, x-1); k <= min(cellsX-1, x+1); k++ {
						o.Allow[c][i] = max(o.Allow[c][i], allowMore*own[j*cellsX+k])
					}
				}
			}
		}
	})
}

// quantile of v, which is put in order.
func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return 0
	}
	slices.Sort(v)
	return v[int(q*float64(len(v)-1))]
}
