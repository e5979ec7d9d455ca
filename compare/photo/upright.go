package photo

import (
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
)

const (
	leansLeast  = 0.008 // photo pixels at a corner: less is as good as nothing
	leansAtOnce = 1.5   // the same: how far gradients tell, a pixel's worth of a panel
	leanRounds  = 8
	turnsMost   = 16.0 // photo pixels at a corner, to either side, that turned searches over
	astray      = 4.0  // the strain from which on it does
	asSound     = 1.0  // the strain of a photo that fits, by Gauss's law
	explains    = 0.6  // the share of what is beyond that which a lean has to take away
)

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
		a := mirrored(n, func(j, l int) (sum float64) {
			for i := range parts {
				sum += parts[i][j][l]
			}
			return sum
		})
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
