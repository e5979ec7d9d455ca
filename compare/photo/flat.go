package photo

import (
	"math"
	"slices"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// average samples photos where the geometry says and returns their mean.
func (o *Optics) average(ps []*rectify.Photo) (*rectify.Planes, []*rectify.Planes, bool) {
	sum := rectify.NewPlanes(o.Geometry.Panel[0], o.Geometry.Panel[1])
	var each []*rectify.Planes
	for _, p := range ps {
		var one rectify.Planes
		if !o.sampler.Sample(p, rectify.Point{}, &one) {
			return nil, nil, false
		}
		each = append(each, &one)
		for c := range sum.Light {
			for k, v := range one.Light[c] {
				sum.Light[c][k] += v / float32(len(ps))
			}
		}
		sum.Clipped += one.Clipped
	}
	return sum, each, true
}

// smooth averages a plane with a Gaussian of standard deviation s, by repeated boxes. The outermost
// two pixels take no part, since there the dark outside shines in.
func smooth(in []float32, w, h int, s float64) []float32 {
	a, n := make([]float64, w*h), make([]float64, w*h)
	for y := 2; y < h-2; y++ {
		for x := 2; x < w-2; x++ {
			a[y*w+x], n[y*w+x] = float64(in[y*w+x]), 1
		}
	}
	r := max(1, int(math.Round(s)))
	pass := func(p []float64) {
		buf := make([]float64, max(w, h))
		line := func(first, step, count int) {
			var sum float64
			for i := range min(r, count) {
				sum += p[first+i*step]
			}
			for i := range count {
				if i+r < count {
					sum += p[first+(i+r)*step]
				}
				if i-r-1 >= 0 {
					sum -= p[first+(i-r-1)*step]
				}
				buf[i] = sum
			}
			for i := range count {
				p[first+i*step] = buf[i]
			}
		}
		for y := range h {
			line(y*w, 1, w)
		}
		for x := range w {
			line(x, w, h)
		}
	}
	for range 3 {
		pass(a)
		pass(n)
	}
	out := make([]float32, w*h)
	for k := range out {
		out[k] = float32(a[k] / max(n[k], 1e-9))
	}
	return out
}

// level smooths the light of a black panel. Where the Gaussian reaches over the panel's end, so that its mean is that of places
// further in, it goes on along the slope there (local linear regression; Fan and Gijbels 1996): a reflection may lie half beside the panel,
// and the last rows of a dark screen were thought 3 % of white lighter than they are. What that leaves is smoothed and added (twicing;
// Tukey 1977), since a reflection's top, which curves, was thought up to 0.4 % of white darker than it is.
func level(in []float32, w, h int, s float64) []float32 {
	once := sloped(in, w, h, s)
	left := make([]float32, len(in))
	for k := range left {
		left[k] = in[k] - once[k]
	}
	for k, v := range sloped(left, w, h, s) {
		once[k] += v
	}
	return once
}

// sloped is a local linear regression with Gaussian weights of standard deviation s.
func sloped(in []float32, w, h int, s float64) []float32 {
	of := func(f func(x, y int, v float32) float32) []float32 {
		p := make([]float32, w*h)
		for k, v := range in {
			p[k] = f(k%w, k/w, v)
		}
		return smooth(p, w, h, s)
	}
	mean := smooth(in, w, h, s)
	out := slices.Clone(mean)
	// The window is a rectangle and its weights a product, so that x and y can be taken one after the other.
	for _, along := range []func(x, y int) float32{
		func(x, _ int) float32 { return float32(x) / float32(w) },
		func(_, y int) float32 { return float32(y) / float32(h) },
	} {
		m := of(func(x, y int, _ float32) float32 { return along(x, y) })
		square := of(func(x, y int, _ float32) float32 { return along(x, y) * along(x, y) })
		both := of(func(x, y int, v float32) float32 { return along(x, y) * v })
		for k := range out {
			slope := (both[k] - mean[k]*m[k]) / max(square[k]-m[k]*m[k], 1e-9)
			out[k] += slope * (along(k%w, k/w) - m[k])
		}
	}
	return out
}

// even smooths the light of a white panel so far that moiré is gone from it: a polynomial of the fourth degree and, of
// what that leaves, less its moiré, a mean over some thirty pixels. A backlight, a lens's shade and a reflection vary no faster.
func (o *Optics) even(in []float32, w, h int) []float32 {
	const degree, n = 4, 15
	terms := func(x, y int) (f [n]float64) {
		powers(float64(o.x[x]), float64(o.y[y]), degree, f[:])
		return f
	}
	a := make([][]float64, n)
	for i := range a {
		a[i] = make([]float64, n+1)
	}
	for y := 2; y < h-2; y += 2 {
		for x := 2; x < w-2; x += 2 {
			f := terms(x, y)
			for i := range f {
				for j := range f {
					a[i][j] += f[i] * f[j]
				}
				a[i][n] += f[i] * float64(in[y*w+x])
			}
		}
	}
	sol, ok := rectify.Solve(a)
	if !ok {
		return smooth(in, w, h, 10)
	}
	base, rest := make([]float32, w*h), make([]float32, w*h)
	for y := range h {
		for x := range w {
			var s float64
			for i, v := range terms(x, y) {
				s += v * sol[i]
			}
			base[y*w+x] = float32(s)
			if s > 0 {
				rest[y*w+x] = in[y*w+x]/float32(s) - 1
			}
		}
	}
	rest = smooth(o.withoutWaves(rest), w, h, 10)
	for k := range base {
		base[k] *= 1 + rest[k]
	}
	return base
}

// flatten corrects the flat field by what the cards show. In the white photos moiré passes for
// uneven light; in the cards, of which each stands a little elsewhere and whose moiré is
// predicted, it averages out: so far as is left of it, for which see withoutWaves.
func (o *Optics) flatten(views []*sight) {
	const wide = 20
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	for c := range 3 {
		num, den := make([]float32, w*h), make([]float32, w*h)
		for _, v := range views {
			for k := range num {
				p, n, e := v.want[c][k], v.noise[c][k], v.left[c][k]
				if e*e > 25*n {
					continue
				}
				num[k] += p * (p + e) / n
				den[k] += p * p / n
			}
		}
		num, den = smooth(num, w, h, wide), smooth(den, w, h, wide)
		for k := range num {
			if den[k] > 0 {
				num[k] = num[k]/den[k] - 1
			}
		}
		for k, f := range o.withoutWaves(num) {
			o.Flat[c][k] *= 1 + min(max(f, -0.2), 0.25)
		}
	}
}

// driftOf is by how much a photo's exposure may well be off the mean.
const driftOf = 0.05

// exposeBlack corrects the light of a black panel by what the cards show. Nothing in a black photo tells its exposure, so that a
// reflection was known to as much of itself as exposures drift. The white photos hold the same light: what one gains the flat
// field loses. A photo's gain and offset are its own, so that only where such light varies does it tell.
func (o *Optics) exposeBlack(views []*sight) {
	for c := range 3 {
		dark, flat := o.Dark[c], o.Flat[c]
		share := func(v *sight, k int) float32 { // what a lit pixel gains by a lighter black it loses by less white
			d := dark[k] / flat[k]
			return d * (1 - (v.want[c][k] - d))
		}
		num, den := 0.0, 1/(driftOf*driftOf)
		for _, v := range views {
			var g [4][4]float64 // sums of products of 1, the light that is seen, black's share of it, and what is left over
			for k, e := range v.left[c] {
				if e*e > 25*v.noise[c][k] {
					continue
				}
				f := [4]float64{1, float64(v.want[c][k]), float64(share(v, k)), float64(e)}
				for i := range f {
					for j := range f {
						g[i][j] += f[i] * f[j] / float64(v.noise[c][k])
					}
				}
			}
			for i := range 2 { // of offset and gain the rest is to be free
				for j := i + 1; j < 4 && g[i][i] > 0; j++ {
					by := g[j][i] / g[i][i]
					for l := range g {
						g[j][l] -= by * g[i][l]
					}
				}
			}
			num, den = num+g[2][3], den+g[2][2]
		}
		more := float32(num / den)
		for _, v := range views {
			for k := range v.left[c] {
				v.left[c][k] -= more * share(v, k)
			}
		}
		for k, d := range dark {
			was := flat[k]
			flat[k] = max(was-more*d, was/2)
			dark[k] += was - flat[k]
		}
	}
}
