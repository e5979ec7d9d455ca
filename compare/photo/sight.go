package photo

import (
	"github.com/fascia-bench/fascia/capture/rectify"
)

// A sight is one photo on the panel's grid, held against a prediction.
type sight struct {
	Move   rectify.Point // of the photo against the geometry, photo pixels
	Gain   [3]float64    // of each channel against the bench's white
	Offset [3]float64    // light that was added everywhere, as a share of white
	Ripple float64       // amplitude of bands, as a share
	seen   rectify.Planes
	want   [3][]float32    // predicted, as a share of white, leak included
	du, dv [3][]float32    // by how much seen is off from want for each photo pixel that the photo has moved further
	left   [3][]float32    // seen less fitted prediction, in the same unit, gains divided out
	noise  [3][]float32    // variance of left
	soft   [2][3][]float32 // want and seen for registering against an earlier photo; else nil
	wide   []float32       // for edges
	white  [3][]float32    // left, whitened
	sums   sums            // of white
	edge   []float32       // share of left's standard deviation that is due to content nearby; see edges
}

// few says which rows are looked at while a photo is being registered: three in eight, and the panel's first and last.
// Three, because a gradient takes the rows above and below.
func few(h int) func(y int) bool {
	return func(y int) bool { return y%8 < 3 || y < 3 || y >= h-3 }
}

// room makes space for n panel pixels.
func (v *sight) room(n int) {
	for c := range v.want {
		if len(v.want[c]) != n {
			v.want[c], v.left[c], v.noise[c] = make([]float32, n), make([]float32, n), make([]float32, n)
			v.du[c], v.dv[c] = make([]float32, n), make([]float32, n)
		}
	}
}

// done says that a sight is no longer needed: its planes serve the next.
func (o *Optics) done(v *sight) { o.spare.Put(v) }

// look samples a photo, registers it against a screen and settles what may vary. A few rows tell where the photo
// stands; all rows are then looked at there, and once more should they say otherwise.
func (o *Optics) look(p *rectify.Photo, s *screen, start rectify.Point) (*sight, bool) {
	v, _ := o.spare.Get().(*sight)
	if v == nil {
		v = &sight{}
	}
	v.Move = start
	light := o.sampler.Light(p)
	defer light.Done()
	predicted := false
	at := func(waves bool, rows func(y int) bool) bool {
		if v.Move.Norm() > 30 || !o.sampler.SampleRows(light, v.Move, &v.seen, rows) {
			return false
		}
		o.normalise(&v.seen, rows)
		if !o.repeats || !predicted { // without waves a prediction is the same wherever the photo stands
			o.predict(s, v.Move, waves, rows, v)
			predicted = true
		}
		if o.repeats {
			soften(&v.seen.Light, &v.soft[1], s.w, s.h)
		}
		return true
	}
	// further moves by what registering says and reports whether that was next to nothing.
	further := func(rows func(y int) bool) bool {
		more := o.register(v, rows)
		d := more.Norm()
		if d > 1.5 { // the gradient says little beyond that
			more.X, more.Y = more.X*1.5/d, more.Y*1.5/d
		}
		v.Move.X, v.Move.Y = v.Move.X+more.X, v.Move.Y+more.Y
		return d < 0.06
	}
	rows := few(s.h)
	if o.repeats {
		rows = nil
	}
	for i := range 6 {
		if !at(i > 0 && !o.repeats, rows) {
			// For who asks what was seen where the panel should be.
			v.Move, v.want, predicted = start, [3][]float32{}, false
			at(false, nil)
			return v, false
		}
		if further(rows) && i > 0 {
			break
		}
	}
	for range 3 {
		if !at(!o.repeats, nil) {
			return v, false
		}
		// A hundredth of a pixel is made good by settle.
		before := v.Move
		if further(nil) {
			v.Move = before
			break
		}
	}
	o.settle(v)
	return v, true
}

// normalise turns sampled light into shares of white, in the rows that rows holds for.
func (o *Optics) normalise(p *rectify.Planes, rows func(y int) bool) {
	parallel(p.Height, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			if rows != nil && !rows(y) {
				continue
			}
			for c := range p.Light {
				l, f := p.Light[c][y*p.Width:][:p.Width], o.Flat[c][y*p.Width:][:p.Width]
				for x := range l {
					l[x] /= f[x]
				}
			}
		}
	})
}
