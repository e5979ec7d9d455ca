package photo

import (
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// A lean is how a photo is turned, scaled and slanted against the alignment, as after a knock at a camera: by how many photo pixels more
// in u and in v a panel point is seen elsewhere, times its place in the photo. That is counted from the panel's middle, which a lean leaves
// where it is, and in units of how far its corners lie from there. A camera that rolls turns all of a photo, lens and all, so a lean is
// the same everywhere in the photo, not on the panel.
type lean struct{ ux, uy, vx, vy float64 }

func (l lean) plus(m lean) lean { return lean{l.ux + m.ux, l.uy + m.uy, l.vx + m.vx, l.vy + m.vy} }

// roll is what of a lean turns the photo without a change of scale.
func (l lean) roll() lean {
	by := (l.vx - l.uy) / 2
	return lean{0, -by, by, 0}
}

// at is the displacement of a place in the photo.
func (l lean) at(p rectify.Point) rectify.Point {
	return rectify.Point{X: l.ux*p.X + l.uy*p.Y, Y: l.vx*p.X + l.vy*p.Y}
}

// A pivot is what photos lean about.
type pivot struct {
	u, v, unit float64
	corners    [4]rectify.Point // of the panel, as places
}

// setPivot makes the pivot of a panel that stands as it was aligned.
func (o *Optics) setPivot() {
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	u, v := o.sampler.U, o.sampler.V
	corners := [4]int{0, w - 1, (h - 1) * w, h*w - 1}
	p := pivot{}
	for _, k := range corners {
		p.u, p.v = p.u+float64(u[k])/4, p.v+float64(v[k])/4
	}
	for _, k := range corners {
		p.unit += math.Hypot(float64(u[k])-p.u, float64(v[k])-p.v) / 4
	}
	for i, k := range corners {
		p.corners[i] = p.place(u[k], v[k])
	}
	o.pivot = p
}

// place is where a photo point lies, as leans count.
func (p *pivot) place(u, v float32) rectify.Point {
	return rectify.Point{X: (float64(u) - p.u) / p.unit, Y: (float64(v) - p.v) / p.unit}
}

// farthest is by how much that corner of the panel has moved that has moved most, in photo pixels.
func (p *pivot) farthest(move rectify.Point, l lean) float64 {
	var d float64
	for _, c := range p.corners {
		q := l.at(c)
		d = max(d, math.Hypot(move.X+q.X, move.Y+q.Y))
	}
	return d
}

// leaning gives optics for photos that lean more by l than those of o do.
func (o *Optics) leaning(l lean) *Optics {
	q := o.learnt()
	q.Repeat, q.repeats, q.leans = o.Repeat, o.repeats, o.leans.plus(l)
	q.once.Do(func() {
		q.derived = o.derived
		q.sampler = o.sampler.Moved(func(u, v float32) rectify.Point { return l.at(o.pivot.place(u, v)) })
		q.basis, q.slope, q.bands = [4][]float32{}, [4][]float32{}, [2][]float32{}
		q.setPlace()
	})
	return q
}
