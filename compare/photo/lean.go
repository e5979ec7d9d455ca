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

const (
	leansLeast  = 0.008 // photo pixels at a corner: less is as good as nothing
	leansAtOnce = 1.5   // the same: how far gradients tell, a pixel's worth of a panel
	leanRounds  = 8
	turnsMost   = 16.0 // photo pixels at a corner, to either side, that turned searches over
	astray      = 4.0  // the strain from which on it does
	asSound     = 1.0  // the strain of a photo that fits, by Gauss's law
	explains    = 0.6  // the share of what is beyond that which a lean has to take away
)

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

// upright looks at a photo that does not fit again, as one that leans, and gives the optics and the sight that fit best: those that it
// was given, or others. Whether a lean explains what was amiss is for the caller to say; see explained. If it may only roll, it can't pass
// for a border that is dark.
func (o *Optics) upright(p *rectify.Photo, s *screen, v *sight, rolls bool) (*Optics, *sight) {
	q, u := o, v
	if first := v.strain(); first > astray { // a gradient does not reach that far, and moiré holds on to where the photo does not stand
		l := o.turned(o.probes(s, v), p, v.Move)
		if rolls {
			l = l.roll()
		}
		more := o.leaning(l)
		if next, ok := more.look(p, s, v.Move); ok && next.strain() < first {
			q, u = more, next
		}
	}
	return q.leanOn(p, s, u, rolls)
}

// explained reports whether most of a strain is gone that is beyond that of a photo that fits.
func explained(before, after float64) bool { return before-after >= explains*(before-asSound) }

// turned searches for the turn and the scale at which probes correlate best with a photo that is moved by m, up to turnsMost at a corner.
func (o *Optics) turned(ps []probe, p *rectify.Photo, m rectify.Point) lean {
	at := func(turn, scale float64) lean { return lean{scale, -turn, turn, scale} }
	var turn, scale float64
	best, _ := o.fits(ps, p, m, lean{})
	for step := turnsMost / 8; step > 0.4; step /= 2 {
		for range 3 {
			t0, s0 := turn, scale
			for i := -8.0; i <= 8; i++ {
				for _, try := range [2][2]float64{{t0 + i*step, s0}, {t0, s0 + i*step}} {
					if c, _ := o.fits(ps, p, m, at(try[0], try[1])); c > best {
						best, turn, scale = c, try[0], try[1]
					}
				}
			}
			if turn == t0 && scale == s0 {
				break
			}
		}
	}
	return at(turn, scale)
}

// leanOn lets a sight lean for as long as it fits the better for it.
func (o *Optics) leanOn(p *rectify.Photo, s *screen, v *sight, rolls bool) (*Optics, *sight) {
	strain := v.strain()
	for range leanRounds {
		l := o.leanOf(v)
		if rolls {
			l = l.roll()
		}
		if o.pivot.farthest(rectify.Point{}, l) < leansLeast {
			break
		}
		more := o.leaning(l)
		next, ok := more.look(p, s, v.Move)
		less := next.strain()
		if !ok || less > strain {
			break
		}
		o, v, strain = more, next, less
	}
	return o, v
}

// strain is the mean of what is left over, as squares over their variances of which none counts for more than 25.
func (v *sight) strain() float64 {
	var sum float64
	n := 0
	for c := range v.left {
		for k := c; k < len(v.left[c]); k += 3 {
			e := v.left[c][k]
			sum += float64(min(e*e/v.noise[c][k], 25))
			n++
		}
	}
	if n == 0 {
		return math.Inf(1)
	}
	return sum / float64(n)
}

// leanOf fits a lean, and a movement beside it, to what is left over. What differs has little say (Huber).
func (o *Optics) leanOf(v *sight) lean {
	const n = 6
	w, h := v.seen.Width, v.seen.Height
	var sol [n]float64
	for range 3 {
		var parts [strips][n][n + 1]float64
		parallel(strips, func(lo, hi int) {
			for i := lo; i < hi; i++ {
				a := &parts[i]
				for y := max(1, h*i/strips); y < min(h-1, h*(i+1)/strips); y++ {
					for c := range 3 {
						for k := y*w + 1 + (y+c)%2; k < y*w+w-1; k += 2 {
							fu, fv, at := float64(v.du[c][k]), float64(v.dv[c][k]), o.pivot.place(o.sampler.U[k], o.sampler.V[k])
							f := [n]float64{fu, fv, fu * at.X, fu * at.Y, fv * at.X, fv * at.Y}
							weight, r := 1/float64(v.noise[c][k]), float64(v.left[c][k])
							e := r
							for j, q := range f {
								e -= sol[j] * q
							}
							if q := e * e * weight; q > 9 {
								weight *= 3 / math.Sqrt(q)
							}
							for j := range n {
								wf := weight * f[j]
								for l := j; l < n; l++ {
									a[j][l] += wf * f[l]
								}
								a[j][n] += wf * r
							}
						}
					}
				}
			}
		})
		a := make([][]float64, n)
		for j := range a {
			a[j] = make([]float64, n+1)
		}
		for i := range parts {
			for j := range n {
				for l := range n {
					a[j][l] += parts[i][min(j, l)][max(j, l)]
				}
				a[j][n] += parts[i][j][n]
			}
		}
		for j := range n {
			a[j][j] += 10 // a prior: by a third of a pixel
		}
		got, ok := rectify.Solve(a)
		if !ok {
			return lean{}
		}
		copy(sol[:], got)
	}
	l := lean{sol[2], sol[3], sol[4], sol[5]}
	if d := o.pivot.farthest(rectify.Point{}, l); d > leansAtOnce {
		by := leansAtOnce / d
		l = lean{l.ux * by, l.uy * by, l.vx * by, l.vy * by}
	}
	return l
}
