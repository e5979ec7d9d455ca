package photo

import (
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// reach is how far, in photo pixels, a photo that does not fit is looked for elsewhere.
const reach = 32

// misfit is the share of pixels that are no noise.
func (v *sight) misfit() float64 {
	n, bad := 0, 0
	for k := 0; k < len(v.left[0]); k += 3 {
		n++
		for c := range 3 {
			if e := v.left[c][k]; e*e > 25*v.noise[c][k] {
				bad++
				break
			}
		}
	}
	return float64(bad) / float64(max(n, 1))
}

// A probe is a panel point that is looked at while a photo is searched for the panel: what is expected there,
// and where.
type probe struct {
	u, v, want float32
	place      rectify.Point // see pivot
	inv        float32       // of the flat field
	rim        bool          // near the panel's border, inside or out
	out        bool          // outside
}

// probes are every fourth pixel, and points just inside and outside of the border, where a panel that is not
// black shows where it ends, whatever it shows.
func (o *Optics) probes(s *screen, v *sight) (out []probe) {
	w, h := s.w, s.h
	at := func(x, y int, want float32, k int, rim bool) {
		// Outside, the tables are carried on in a straight line.
		i, j := min(max(x, 0), w-1), min(max(y, 0), h-1)
		u, t := o.sampler.U[j*w+i], o.sampler.V[j*w+i]
		if x != i {
			d := 1
			if x > i {
				d = -1
			}
			f := float32(max(x-i, i-x))
			u, t = u-f*(o.sampler.U[j*w+i+d]-u), t-f*(o.sampler.V[j*w+i+d]-t)
		}
		if y != j {
			d := w
			if y > j {
				d = -w
			}
			f := float32(max(y-j, j-y))
			u, t = u-f*(o.sampler.U[j*w+i+d]-o.sampler.U[j*w+i]), t-f*(o.sampler.V[j*w+i+d]-o.sampler.V[j*w+i])
		}
		out = append(out, probe{u, t, want, o.pivot.place(u, t), 1 / o.Flat[1][k], rim, x != i || y != j})
	}
	inside := func(x, y int, rim bool) { at(x, y, v.want[1][y*w+x], y*w+x, rim) }
	outside := func(x, y int) {
		k := min(max(y, 0), h-1)*w + min(max(x, 0), w-1)
		at(x, y, o.Dark[1][k]/o.Flat[1][k], k, true)
	}
	for y := 2; y < h-2; y += 4 {
		for x := 2; x < w-2; x += 4 {
			inside(x, y, false)
		}
	}
	for x := 0; x < w; x += 2 {
		for d := 1; d < 8; d += 3 {
			inside(x, d, true)
			inside(x, h-1-d, true)
			outside(x, -d-1)
			outside(x, h+d)
		}
	}
	for y := 0; y < h; y += 2 {
		for d := 1; d < 8; d += 3 {
			inside(d, y, true)
			inside(w-1-d, y, true)
			outside(-d-1, y)
			outside(w+d, y)
		}
	}
	return out
}

// fits is the correlation of probes with a photo moved by m that leans by l, of all of them and of those at the border.
func (o *Optics) fits(ps []probe, p *rectify.Photo, m rectify.Point, l lean) (all, rim float64) {
	var a, b correlation
	for i := range ps {
		q := &ps[i]
		d := l.at(q.place)
		u, v := int(q.u+float32(m.X+d.X)), int(q.v+float32(m.Y+d.Y))
		if u < 0 || v < 0 || u+1 >= p.Width || v+1 >= p.Height {
			continue
		}
		seen := o.seenAt(q, p, u, v)
		a.add(float64(q.want), seen)
		if q.rim {
			b.add(float64(q.want), seen)
		}
	}
	return a.value(), b.value()
}

// seenAt is the green light at a photo pixel and its neighbours, as a share of white.
func (o *Optics) seenAt(q *probe, p *rectify.Photo, u, v int) float64 {
	k, c := v*p.Stride+4*u+1, &o.sampler.Curve
	return float64((c[p.Pix[k]] + c[p.Pix[k+4]] + c[p.Pix[k+p.Stride]] + c[p.Pix[k+p.Stride+4]]) / 4 * q.inv)
}

// beyondEdge is the share of points just outside of where the panel was that are lit as only a panel is, or lie off
// the photo: content changes, but it does not leave its panel.
func (o *Optics) beyondEdge(ps []probe, p *rectify.Photo, m rectify.Point) float64 {
	const lit = 0.15
	n, bad := 0, 0
	for i := range ps {
		q := &ps[i]
		if !q.out {
			continue
		}
		n++
		u, v := int(q.u+float32(m.X)), int(q.v+float32(m.Y))
		if u < 0 || v < 0 || u+1 >= p.Width || v+1 >= p.Height || o.seenAt(q, p, u, v) > float64(q.want)+lit {
			bad++
		}
	}
	return float64(bad) / float64(max(n, 1))
}

type correlation struct{ n, a, b, aa, bb, ab float64 }

func (c *correlation) add(a, b float64) {
	c.n, c.a, c.b, c.aa, c.bb, c.ab = c.n+1, c.a+a, c.b+b, c.aa+a*a, c.bb+b*b, c.ab+a*b
}

// value is 1 where there is nothing to be seen, so nothing to disagree.
func (c *correlation) value() float64 {
	den := math.Sqrt((c.aa*c.n - c.a*c.a) * (c.bb*c.n - c.b*c.b))
	if !(den > 1e-9) {
		return 1
	}
	return (c.ab*c.n - c.a*c.b) / den
}

// staying looks at a photo as one of a rig that has not moved, if that is as good as where it was found: another screen than the golden fits
// nowhere, so that it may be found anywhere. It gives nil for a photo that does fit where it was found, or that elsewhere finds.
func (o *Optics) staying(p *rectify.Photo, s *screen, found *sight) *sight {
	still, ok := o.lookStill(p, s, rectify.Point{})
	fits := func(v *sight) bool { return v.strain() < 2*asSound || explained(still.strain(), v.strain()) }
	if !ok || fits(found) {
		return nil
	}
	if _, u := o.upright(p, s, found, false); fits(u) {
		return nil
	}
	if _, moved := o.elsewhere(p, s, found); moved {
		return nil
	}
	return still
}

// moved searches for the move at which probes correlate best with a photo that leans by l, up to that far from m in u and in v.
func (o *Optics) moved(ps []probe, p *rectify.Photo, m rectify.Point, l lean, far, step float64) rectify.Point {
	best, at := math.Inf(-1), m
	for dy := -far; dy <= far; dy += step {
		for dx := -far; dx <= far; dx += step {
			to := rectify.Point{X: m.X + dx, Y: m.Y + dy}
			if c, _ := o.fits(ps, p, to, l); c > best {
				best, at = c, to
			}
		}
	}
	return at
}

// elsewhere looks for the golden up to reach photo px away, and turned there, and reports how far it stands, if it fits clearly
// better there and the panel's border has moved along: content that has moved on the panel is a
// difference, a panel that has moved is none. Without bound is the distance of a panel that is seen to reach
// beyond its border.
func (o *Optics) elsewhere(p *rectify.Photo, s *screen, v *sight) (float64, bool) {
	ps := o.probes(s, v)
	if o.beyondEdge(ps, p, v.Move) > 0.15 && v.misfit() > 0.3 {
		return math.Inf(1), true
	}
	best, at, turned := math.Inf(-1), rectify.Point{}, lean{}
	for _, m := range []rectify.Point{o.moved(ps, p, rectify.Point{}, lean{}, reach, 2), v.Move} {
		l := o.turned(ps, p, m)
		for range 2 { // a place that was found without a turn is a pixel or two off, and the turn by what follows
			m = o.moved(ps, p, m, l, 2.5, 0.5)
			l = o.turned(ps, p, m)
		}
		if c, _ := o.fits(ps, p, m, l); c > best {
			best, at, turned = c, m, l
		}
	}
	if o.pivot.farthest(at, turned) < 2 {
		return 0, false
	}
	here, rimHere := o.fits(ps, p, v.Move, lean{})
	if _, rimThere := o.fits(ps, p, at, turned); best < here+0.02 || rimThere < rimHere-0.01 {
		return 0, false
	}
	q := o.leaning(turned)
	there, ok := q.look(p, s, at)
	if !ok { // part of it is off the photo
		return q.pivot.farthest(at, q.leans), best > here+0.2
	}
	q, there = q.leanOn(p, s, there, false)
	return q.pivot.farthest(there.Move, q.leans), there.misfit() < 0.5*v.misfit()
}
