package photo

import (
	"errors"
	"math"
	"slices"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// A Pane is what a bench has learnt of a sound panel's white and black: how far pixels, rows and columns stray there, by
// moiré that no prediction holds and by noise, and what one that gives no light would leave instead. All are
// of the sums that strays makes.
type Pane struct {
	// Spread is a standard deviation by card (black, white), shape, colour and place.
	Spread [2][shapes][colours][panePlaces]float32
	// Law is that of the largest stray in a block of the panel, in spreads, by card and shape.
	Law [2][shapes]law
	// Dead is what a shape without any light of a colour leaves, as a share of that light: its median over the panel.
	Dead [shapes][colours]float64
	// Faint is the same in the twentieth part of the panel where it is least, for all colours together.
	Faint [shapes]float64
	// Rest is where the rig stood in the mean, photo pixels from where the geometry was measured.
	Rest rectify.Point
	// Even is by how much the light of white strays from photo to photo in one part of the panel, against the others.
	Even float64
}

// A law is that of the largest of many in a block, beyond its middle: Gumbel's, whose scale is known from Seen blocks only.
// Allowing for that, the excess follows Pareto's law, as in tail.
type law struct{ Mu, Beta, Seen float64 }

// fitLaw fits by quantiles and takes the wider of two stretches. A quarter of the blocks may hold what is no noise,
// as a panel has that was faulty when the bench was aligned.
func fitLaw(v []float64) law {
	slices.Sort(v)
	at := func(q float64) (value, gumbel float64) { return v[int(q*float64(len(v)-1))], -math.Log(-math.Log(q)) }
	low, gl := at(0.25)
	mid, gm := at(0.5)
	high, gh := at(0.7)
	beta := max((mid-low)/(gm-gl), (high-mid)/(gh-gm), leastBeta)
	return law{mid - gm*beta, beta, float64(len(v)) * independent}
}

// chance is the probability that somewhere on a sound panel a stray is as large, of tests that are as many.
func (l *law) chance(t, tests float64) float64 {
	x := max(0, t-l.Mu) / l.Beta
	return -math.Expm1(-tests * blocks * math.Pow(1+x/l.Seen, -l.Seen))
}

// limit is the stray whose chance is p.
func (l *law) limit(p, tests float64) float64 {
	return l.Mu + l.Beta*l.Seen*(math.Pow(-math.Log1p(-p)/(tests*blocks), -1/l.Seen)-1)
}

// valid reports whether a Pane, perhaps read from a file, can be worked with.
func (p *Pane) valid() error {
	if p == nil {
		return nil // optics of an earlier version: all but the glass can be judged
	}
	for card := range 2 {
		for shape := range shapes {
			l := &p.Law[card][shape]
			ok := l.Beta > 0 && l.Seen >= 1
			for c := range colours {
				ok = ok && p.Dead[shape][c] > 0
				for _, v := range p.Spread[card][shape][c] {
					ok = ok && v > 0
				}
			}
			if !ok {
				return errors.New("the optics do not say what a sound panel looks like: run fascia bench align again")
			}
		}
	}
	return nil
}

// paneTests is how many shapes are looked for on how many cards.
const paneTests = 2 * shapes

// learnPane learns from the photos of white and black that the bench was aligned with, and from how the rig moved.
func (o *Optics) learnPane(white, black []*rectify.Photo, moves []rectify.Point) {
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	place := placesOf(w, h)
	p := &Pane{}
	for _, m := range moves {
		p.Rest.X, p.Rest.Y = p.Rest.X+m.X/float64(len(moves)), p.Rest.Y+m.Y/float64(len(moves))
	}
	for card, shots := range [2][]*rectify.Photo{black, white} {
		s := o.screenOf(cardOf(w, h, card == 1))
		var all []*strays
		for _, shot := range shots {
			var v *sight
			var ok bool
			if card == 1 {
				v, ok = o.lookAtCard(shot, s)
			} else {
				v, ok = o.lookStill(shot, s, p.Rest)
			}
			if ok {
				all = append(all, o.strays(v, card == 1))
			}
			if ok && card == 1 {
				for _, e := range lights(v) {
					p.Even = max(p.Even, math.Abs(e))
				}
			}
			o.done(v)
		}
		for shape := range shapes {
			top := make([][blocks]float64, len(all))
			for c := range colours {
				spread := &p.Spread[card][shape][c]
				for _, a := range all {
					for j, v := range spreadOf(a.of[shape][c], place[shape], true) {
						spread[j] += v / float32(len(all))
					}
				}
				for i, a := range all {
					for k, t := range p.inSpreads(a.of[shape][c], &place, card, shape, c, w) {
						b := k/w*blocksY/h*blocksX + k%w*blocksX/w
						top[i][b] = max(top[i][b], float64(max(t, -t)))
					}
				}
			}
			var most []float64
			for i := range top {
				most = append(most, top[i][:]...)
			}
			p.Law[card][shape] = fitLaw(most)
		}
	}
	p.learnDead(o)
	o.Pane = p
}

// learnDead plants shapes without light into a white card and predicts what they leave.
func (p *Pane) learnDead(o *Optics) {
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	white := o.screenOf(cardOf(w, h, true))
	var was, is sight
	o.predict(white, rectify.Point{}, true, nil, &was)
	for shape := range shapes {
		apart, side := 11, 1 // odd, so that they meet every phase of the mosaic
		if shape == anArea {
			apart, side = aroundSide+patchSide/2+1, patchSide
		}
		var at []int
		for y := apart; y < h-apart; y++ {
			for x := apart; x < w-apart; x++ {
				if (shape == aRow || x%apart == 0) && (shape == aColumn || y%apart == 0) {
					at = append(at, y*w+x)
				}
			}
		}
		for c := range colours {
			s := o.screenOf(cardOf(w, h, true))
			for _, k := range at {
				for i := range side * side {
					x, y := k%w+i%side-side/2, k/w+i/side-side/2
					for ch := range 3 {
						if c == ch || c == allColours {
							s.light[ch][s.at(x, y)] = 0
						}
					}
				}
			}
			o.predict(s, rectify.Point{}, true, nil, &is)
			for ch := range is.left {
				for k := range is.left[ch] {
					is.left[ch][k] = is.want[ch][k] - was.want[ch][k]
				}
			}
			is.noise = was.noise
			a := strayIn(o.byColour(&is.left, &is)[c], shape, w, h)
			v := make([]float64, 0, len(at))
			for _, k := range at {
				v = append(v, -float64(a[k]))
			}
			p.Dead[shape][c] = max(quantile(v, 0.5), 0.02)
			if c == allColours {
				p.Faint[shape] = max(quantile(v, 0.05), 0.01)
			}
		}
	}
}
