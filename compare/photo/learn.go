package photo

import (
	"fmt"
	"image"
	"math"
	"sort"
	"strings"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// Learn works out geometry and optics from one photo of each of Patterns(width, height), in their order.
// An error names the pattern whose photo is of no use.
func Learn(width, height int, photos []image.Image) (*Optics, Report, error) {
	ps := Patterns(width, height)
	rep := Report{}
	if len(photos) != len(ps) {
		return nil, rep, fmt.Errorf("%d photos for %d patterns: one photo of each is needed", len(photos), len(ps))
	}
	shot := make([]*rectify.Photo, len(ps))
	by := map[string][]*rectify.Photo{} // kind of pattern -> photos
	var shown, tried []*screen
	var cardShots, trialShots []*rectify.Photo
	for i, p := range ps {
		if photos[i] == nil {
			return nil, rep, fmt.Errorf("pattern %s has no photo", p.Name)
		}
		shot[i] = rectify.NewPhoto(photos[i])
		if shot[i].Width != shot[0].Width || shot[i].Height != shot[0].Height {
			return nil, rep, fmt.Errorf("the photo of %s is %dx%d, that of %s %dx%d: take all with the same setting",
				p.Name, shot[i].Width, shot[i].Height, ps[0].Name, shot[0].Width, shot[0].Height)
		}
		kind := strings.Split(p.Name, "-")[1]
		by[kind] = append(by[kind], shot[i])
	}
	g, fit, err := rectify.Locate(width, height, rectify.Views{White: by["white"][0], Black: by["black"][0], Quarters: by["quarters"][0], Grids: by["grid"]})
	if err != nil {
		return nil, rep, err
	}
	rep.Fit = fit
	o := &Optics{Geometry: *g}
	if err := o.learnTones(by, &rep); err != nil {
		return nil, rep, err
	}
	for i, p := range ps {
		switch {
		case strings.Contains(p.Name, "-card-"):
			shown, cardShots = append(shown, o.screenOf(p.Image)), append(cardShots, shot[i])
		case strings.Contains(p.Name, "-trial-"):
			tried, trialShots = append(tried, o.screenOf(p.Image)), append(trialShots, shot[i])
		}
	}
	views, err := o.learnKernel(shown, cardShots, &rep)
	if err != nil {
		return nil, rep, err
	}
	if err := o.learnThreshold(shown, views, tried, trialShots); err != nil {
		return nil, rep, err
	}
	rep.measure(o)
	return o, rep, nil
}

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

// even smooths a plane so far that moiré is gone from it: a polynomial of the fourth degree and, of
// what that leaves, a mean over some thirty pixels. A backlight, a lens's shade and a reflection vary no
// faster. Moiré that stayed in the flat field would be taken for uneven light, which does not move as the rig does.
func even(in []float32, w, h int) []float32 {
	const degree, n = 4, 15
	terms := func(x, y int) (f [n]float64) {
		u, v := 2*float64(x)/float64(w-1)-1, 2*float64(y)/float64(h-1)-1
		i, p := 0, 1.0
		for a := 0; a <= degree; a++ {
			q := p
			for b := 0; a+b <= degree; b++ {
				f[i] = q
				q *= v
				i++
			}
			p *= u
		}
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
			base[y*w+x], rest[y*w+x] = float32(s), in[y*w+x]-float32(s)
		}
	}
	rest = smooth(rest, w, h, 10)
	for k := range base {
		base[k] += rest[k]
	}
	return base
}

// learnTones learns the camera's curve, flat field and the panel's tones and primaries.
func (o *Optics) learnTones(by map[string][]*rectify.Photo, rep *Report) error {
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	o.Curve, rep.HalfTone = learnCurve(&o.Geometry, by["white"][0], by["black"][0], by["tones"])
	o.prepare()
	white, whites, ok1 := o.average(by["white"])
	black, _, ok2 := o.average(by["black"])
	if !ok1 || !ok2 {
		return fmt.Errorf("part of the panel lies off the photo: move the camera back")
	}
	rep.Clipped = float64(white.Clipped) / float64(len(whites)*w*h)
	for c := range 3 {
		o.Dark[c] = smooth(black.Light[c], w, h, 3)
		o.Flat[c] = even(white.Light[c], w, h)
		var mean float64
		for k := range o.Flat[c] {
			o.Flat[c][k] -= o.Dark[c][k]
			mean += float64(o.Flat[c][k]) / float64(w*h)
		}
		rep.White[c] = mean
		if mean < 0.02 {
			return fmt.Errorf("a white panel gives the camera next to no light in one channel (%.1f %% of full scale): expose longer", 100*mean)
		}
		for k := range o.Flat[c] {
			o.Flat[c][k] = max(o.Flat[c][k], float32(mean/20))
		}
		for _, p := range whites {
			var m float64
			for _, v := range p.Light[c] {
				m += float64(v) / float64(w*h)
			}
			rep.Whites[c] = append(rep.Whites[c], m)
		}
	}
	all := tonePatches()
	type key struct {
		ch   int
		code uint8
	}
	sums := map[key]*[4]float64{} // light in each camera channel, count
	for n, p := range by["tones"] {
		var s rectify.Planes
		if !o.sampler.Sample(p, rectify.Point{}, &s) {
			return fmt.Errorf("part of the panel lies off the photo of the tone chart")
		}
		cells, which := toneLayout(w, h, n+1)
		light := func(i int) (out [3]float64) {
			r := cells[i].Inset(min(3, cells[i].Dx()/3))
			for c := range 3 {
				var v []float64
				for y := r.Min.Y; y < r.Max.Y; y++ {
					for x := r.Min.X; x < r.Max.X; x++ {
						k := y*w + x
						v = append(v, float64((s.Light[c][k]-o.Dark[c][k])/o.Flat[c][k]))
					}
				}
				for _, x := range v {
					out[c] += x / float64(len(v))
				}
			}
			return out
		}
		var ref [3][]float64
		for i := range cells {
			if q := all[which[i]]; q.duty == 0 && q.c.R == 255 && q.c.G == 255 && q.c.B == 255 {
				l := light(i)
				for c := range ref {
					ref[c] = append(ref[c], l[c])
				}
			}
		}
		if len(ref[0]) == 0 {
			return fmt.Errorf("the panel is too small for the tone chart: %dx%d", w, h)
		}
		for i := range cells {
			q := all[which[i]]
			code := [3]uint8{q.c.R, q.c.G, q.c.B}
			for ch := range 3 {
				if q.duty == 0 && code[ch] > 0 && code[(ch+1)%3] == 0 && code[(ch+2)%3] == 0 {
					k := key{ch, code[ch]}
					if sums[k] == nil {
						sums[k] = new([4]float64)
					}
					l := light(i)
					for c := range 3 {
						sums[k][c] += l[c] / median(ref[c])
					}
					sums[k][3]++
				}
			}
		}
	}
	var mix [3][3]float64
	for ch := range 3 {
		var steps []uint8
		var light []float64
		for _, step := range toneSteps {
			code := level16(ch, step)
			if s := sums[key{ch, code}]; s != nil {
				steps, light = append(steps, code), append(light, s[ch]/s[3])
			}
		}
		if len(steps) < 4 || steps[len(steps)-1] != 255 {
			return fmt.Errorf("the panel is too small for the tone chart: %dx%d", w, h)
		}
		o.Tones[ch] = toneOf(steps, light)
		top := sums[key{ch, 255}]
		for c := range 3 {
			mix[c][ch] = top[c] / top[3]
		}
	}
	rep.Mix = mix
	inv, ok := invert(mix)
	if !ok {
		return fmt.Errorf("red, green and blue look alike to the camera: is it a grey camera, or are the photos out of order?")
	}
	o.Colour = inv
	for c := range 3 { // a first guess at the kernel, good enough to register with
		k := make([]float32, features)
		for j := range 3 {
			for i := range 3 {
				g := [3]float64{1, 2, 1}
				k[(j+1)*5+i+1] = float32(mix[c][c] * g[i] * g[j] / 16)
			}
		}
		k[same+4], k[same+cross+4] = float32(mix[c][map[int]int{0: 1, 1: 0, 2: 0}[c]]), float32(mix[c][map[int]int{0: 2, 1: 2, 2: 1}[c]])
		o.Kernel[c] = k
		o.Noise[c] = [noiseTerms]float64{1e-4, 1e-4, 1e-3, 0.05, 0.01, 0, 0}
	}
	return nil
}

func invert(m [3][3]float64) (out [3][3]float64, ok bool) {
	for j := range 3 {
		a := make([][]float64, 3)
		for i := range a {
			a[i] = append([]float64{}, m[i][:]...)
			b := 0.0
			if i == j {
				b = 1
			}
			a[i] = append(a[i], b)
		}
		s, ok := rectify.Solve(a)
		if !ok {
			return out, false
		}
		for i := range s {
			if math.Abs(s[i]) > 50 {
				return out, false
			}
			out[i][j] = s[i]
		}
	}
	return out, true
}

func median(v []float64) float64 {
	s := append([]float64(nil), v...)
	sort.Float64s(s)
	return s[len(s)/2]
}

// rounds of learning: each starts from a better flat field and better movements than the one before.
// The kernels are fitted in the first of them, the overtones to what these leave over in the others.
const rounds, kernelRounds = 5, 2

// flatten corrects the flat field by what the cards show. In the white photos moiré passes for
// uneven light; in the cards, of which each stands a little elsewhere and whose moiré is
// predicted, it averages out.
func (o *Optics) flatten(views []*sight) {
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
		num, den = smooth(num, w, h, 4), smooth(den, w, h, 4)
		for k := range num {
			if den[k] > 0 {
				f := min(max(num[k]/den[k], 0.8), 1.25)
				o.Flat[c][k] *= f
			}
		}
	}
}

// learnKernel learns point spread, mixing, moiré and noise from the cards.
func (o *Optics) learnKernel(shown []*screen, shots []*rectify.Photo, rep *Report) ([]*sight, error) {
	var views []*sight
	for round := range rounds {
		views = views[:0]
		for i, p := range shots {
			v, ok := o.look(p, shown[i], rectify.Point{})
			if !ok || v.Move.Norm() > 6 {
				return nil, fmt.Errorf("the photo of card %d does not fit the geometry: has the camera moved, or are photos out of order?", i+1)
			}
			views = append(views, v)
		}
		if round == rounds-1 {
			break
		}
		switch {
		case round < kernelRounds:
			if err := o.regress(shown, views, round == 0); err != nil {
				return nil, err
			}
		case round == kernelRounds:
			o.pickOvertones(shown, views)
			fallthrough
		default:
			o.tune(shown, views)
		}
		o.fitNoise(shown, views)
		if round == 0 {
			o.findRipple(views)
		}
		o.flatten(views)
		o.straighten(views)
	}
	o.fitNoise(shown, views)
	for c := range 3 {
		var m, q float64
		n := float64(len(views))
		for _, v := range views {
			m, q = m+v.Gain[c]/n, q+v.Gain[c]*v.Gain[c]/n
		}
		o.Drift[c] = math.Sqrt(max(0, q-m*m))
	}
	for _, v := range views {
		rep.Moves = append(rep.Moves, v.Move)
	}
	return views, nil
}

// learnThreshold tries the predictions on screens that nothing was fitted to.
func (o *Optics) learnThreshold(known []*screen, cards []*sight, shown []*screen, shots []*rectify.Photo) error {
	var views []*sight
	for i, p := range shots {
		v, ok := o.look(p, shown[i], rectify.Point{})
		if !ok || v.Move.Norm() > 6 {
			return fmt.Errorf("the photo of trial %d does not fit the geometry: has the camera moved, or are photos out of order?", i+1)
		}
		views = append(views, v)
	}
	o.fitNoise(append(append([]*screen(nil), known...), shown...), append(append([]*sight(nil), cards...), views...))
	for i, v := range cards {
		o.variances(known[i], v)
	}
	for i, v := range views {
		o.variances(shown[i], v)
	}
	o.learnWindows(cards, views)
	return nil
}

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

// fitNoise fits the variance of what is left to its terms, none of them negative.
func (o *Optics) fitNoise(shown []*screen, views []*sight) {
	w := o.Geometry.Panel[0]
	for c := range 3 {
		type row struct {
			f [noiseTerms]float64
			e float64 // square of what is left
		}
		var rows []row
		for i, v := range views {
			s := shown[i]
			for k := i % 11; k < len(v.left[c]); k += 11 {
				x, y := k%w, k/w
				at := s.at(x, y)
				p := float64(max(0, v.want[c][k]-o.Dark[c][k]/o.Flat[c][k]))
				e := float64(v.left[c][k])
				own, others, m := float64(s.vary[c][at]), float64(s.vary[(c+1)%3][at]+s.vary[(c+2)%3][at]), float64(o.moire[c][k])
				rows = append(rows, row{[noiseTerms]float64{1, p, p * p, own, others, own * m, others * m}, e * e})
			}
		}
		t := o.Noise[c]
		for range 6 {
			var a [noiseTerms][noiseTerms + 1]float64
			for _, r := range rows {
				var v float64
				for i := range t {
					v += t[i] * r.f[i]
				}
				weight := 1 / (v * v)
				e := min(r.e, 40*v)
				for i := range t {
					for j := range t {
						a[i][j] += weight * r.f[i] * r.f[j]
					}
					a[i][noiseTerms] += weight * r.f[i] * e
				}
			}
			for range 300 {
				for i := range t {
					s := a[i][noiseTerms]
					for j := range t {
						if j != i {
							s -= a[i][j] * t[j]
						}
					}
					t[i] = max(0, s/max(a[i][i], 1e-12))
				}
			}
			t[0] = max(t[0], 1e-7)
		}
		o.Noise[c] = t
	}
}
