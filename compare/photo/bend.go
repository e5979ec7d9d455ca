package photo

import (
	"github.com/fascia-bench/fascia/capture/rectify"
)

// bendX, bendY: nodes of the field by which the geometry is corrected.
const bendX, bendY = 9, 7

// A Bend is a smooth displacement of where the panel is seen, in photo pixels, at nodes that
// are spread evenly over the panel. What lens models leave over is a few hundredths of a
// photo pixel; moiré, a vernier between stripes and mosaic, shows that much at once.
type Bend [bendX * bendY]rectify.Point

// nodes gives the four nodes round a panel point and their shares.
func nodes(x, y, w, h int) (at [4]int, share [4]float64) {
	fx, fy := float64(x)/float64(w-1)*(bendX-1), float64(y)/float64(h-1)*(bendY-1)
	i, j := min(int(fx), bendX-2), min(int(fy), bendY-2)
	fx, fy = fx-float64(i), fy-float64(j)
	k := j*bendX + i
	return [4]int{k, k + 1, k + bendX, k + bendX + 1}, [4]float64{(1 - fx) * (1 - fy), fx * (1 - fy), (1 - fx) * fy, fx * fy}
}

// straighten improves Bend by what all cards agree on.
func (o *Optics) straighten(views []*sight) {
	const n = 2 * bendX * bendY
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	type system [][]float64
	fresh := func() system {
		a := make(system, n)
		for i := range a {
			a[i] = make([]float64, n+1)
		}
		return a
	}
	parts := make([]system, len(views))
	parallel(len(views), func(lo, hi int) {
		for i := lo; i < hi; i++ {
			a, v := fresh(), views[i]
			for y := 1; y < h-1; y++ {
				for x := 1 + y%2; x < w-1; x += 2 {
					at, share := nodes(x, y, w, h)
					k := y*w + x
					for c := range 3 {
						u, t, r := float64(v.du[c][k]), float64(v.dv[c][k]), float64(v.left[c][k])
						weight := 1 / float64(v.noise[c][k])
						if q := r * r * weight; q > 16 {
							continue
						}
						for p := range 4 {
							for q := range 4 {
								s := weight * share[p] * share[q]
								a[2*at[p]][2*at[q]] += s * u * u
								a[2*at[p]][2*at[q]+1] += s * u * t
								a[2*at[p]+1][2*at[q]] += s * u * t
								a[2*at[p]+1][2*at[q]+1] += s * t * t
							}
							a[2*at[p]][n] += weight * share[p] * u * r
							a[2*at[p]+1][n] += weight * share[p] * t * r
						}
					}
				}
			}
			parts[i] = a
		}
	})
	sum := fresh()
	for _, a := range parts {
		for i := range sum {
			for j := range sum[i] {
				sum[i][j] += a[i][j]
			}
		}
	}
	for i := range sum {
		sum[i][i] += 4e4 // the geometry is right to some hundredths of a pixel
	}
	// Neighbours move alike.
	tie := func(a, b int) {
		for d := range 2 {
			p, q := 2*a+d, 2*b+d
			sum[p][p] += 4e4
			sum[q][q] += 4e4
			sum[p][q] -= 4e4
			sum[q][p] -= 4e4
		}
	}
	for j := range bendY {
		for i := range bendX {
			if i+1 < bendX {
				tie(j*bendX+i, j*bendX+i+1)
			}
			if j+1 < bendY {
				tie(j*bendX+i, (j+1)*bendX+i)
			}
		}
	}
	sol, ok := rectify.Solve(sum)
	if !ok {
		return
	}
	var more Bend
	for i := range more {
		more[i] = rectify.Point{X: sol[2*i], Y: sol[2*i+1]}
		o.Bend[i].X += more[i].X
		o.Bend[i].Y += more[i].Y
	}
	o.apply(&more)
}

// apply moves the tables by a field.
func (o *Optics) apply(b *Bend) {
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	for y := range h {
		for x := range w {
			at, share := nodes(x, y, w, h)
			var du, dv float64
			for i := range at {
				du += share[i] * b[at[i]].X
				dv += share[i] * b[at[i]].Y
			}
			o.sampler.U[y*w+x] += float32(du)
			o.sampler.V[y*w+x] += float32(dv)
		}
	}
	o.setPivot()
	o.setPlace()
}

// setPlace makes what follows from where the panel's pixels are seen.
func (o *Optics) setPlace() {
	o.setBasis()
	o.setSlope()
	if o.Period > 0 {
		o.setBands()
	}
	if len(o.Dark[0]) > 0 {
		o.setBehind()
	}
}
