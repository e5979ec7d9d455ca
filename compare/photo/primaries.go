package photo

import (
	"fmt"
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
)

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
		o.Dark[c] = level(black.Light[c], w, h, 4)
		lit := make([]float32, w*h) // without reflections, which are not as even as a backlight
		for k, v := range white.Light[c] {
			lit[k] = v - o.Dark[c][k]
		}
		o.Flat[c] = o.even(lit, w, h)
		var mean float64
		for _, v := range o.Flat[c] {
			mean += float64(v) / float64(w*h)
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
	o.setBehind()
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
