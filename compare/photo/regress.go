package photo

import (
	"fmt"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// regress fits the kernels by least squares over a part of all cards' pixels.
func (o *Optics) regress(shown []*screen, views []*sight, first bool) error {
	errs := make([]error, 3)
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	step := max(1, w*h*len(views)/45000) | 1
	for c := range 3 {
		type part struct {
			a [][]float64
		}
		parts := make([]part, len(views))
		parallel(len(views), func(lo, hi int) {
			for i := lo; i < hi; i++ {
				a := make([][]float64, features)
				for j := range a {
					a[j] = make([]float64, features+1)
				}
				v, s := views[i], shown[i]
				cu, su, cv, sv := turn(v.Move.X, v.Move.Y)
				f := make([]float32, features)
				d := make([]float64, features)
				var ws [waves]float32
				for k := i % step; k < w*h; k += step {
					x, y := k%w, k/w
					o.waveAt(k, cu, su, cv, sv, &ws)
					o.feature(s, c, x, y, &ws, f)
					// What was left over is put back on the prediction: gains, bands and offsets are out.
					t := float64(v.want[c][k] + v.left[c][k] - o.Dark[c][k]/o.Flat[c][k])
					weight := 1 / float64(v.noise[c][k])
					if !first {
						if r := float64(v.left[c][k]); r*r*weight > 25 {
							weight *= 25 / (r * r * weight)
						}
					}
					for j := range f {
						d[j] = float64(f[j])
					}
					for j := range d {
						wf := weight * d[j]
						if wf == 0 {
							continue
						}
						row := a[j][: j+1 : j+1]
						for l := range row {
							row[l] += wf * d[l]
						}
						a[j][features] += wf * t
					}
				}
				parts[i].a = a
			}
		})
		sum := parts[0].a
		for _, p := range parts[1:] {
			for j := range sum {
				for l := range sum[j] {
					sum[j][l] += p.a[j][l]
				}
			}
		}
		var trace float64
		for j := range sum {
			trace += sum[j][j] / features
		}
		for j := range sum {
			for l := j + 1; l < features; l++ {
				sum[j][l] = sum[l][j]
			}
			sum[j][j] += 1e-6*trace + 1e-9
		}
		sol, ok := rectify.Solve(sum)
		if !ok {
			errs[c] = fmt.Errorf("the cards' photos tell too little to learn the optics from: are they photos of the cards?")
			continue
		}
		for j := range sol {
			o.Kernel[c][j] = float32(sol[j])
		}
	}
	o.setMoire()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}

// mirrored makes normal equations of n unknowns whole of which upper gives the upper half and, as column n, the right side.
func mirrored(n int, upper func(i, j int) float64) [][]float64 {
	a := make([][]float64, n)
	for i := range a {
		a[i] = make([]float64, n+1)
	}
	for i := range a {
		for j := i; j < n; j++ {
			a[i][j] = upper(i, j)
			a[j][i] = a[i][j]
		}
		a[i][n] = upper(i, n)
	}
	return a
}
