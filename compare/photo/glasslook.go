package photo

import (
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// An even card has no content to register by: its border is faint amid moiré, and moiré fits nearly as well where the photo
// does not stand. So it is looked at from several places, until what is left over is no more than noise, or the best of
// all is had.
const (
	apart     = 0.45 // between places, photo pixels: moiré repeats after one and after two
	placesOut = 3
	asNoise   = 0.7 // median of squares over variances; by Gauss's law it were 0.45
)

// lookAtCard looks at the photo of a card.
func (o *Optics) lookAtCard(p *rectify.Photo, s *screen) (*sight, bool) {
	v, ok := o.look(p, s, rectify.Point{})
	if !ok {
		return v, false
	}
	return o.better(p, s, v), true
}

// better looks from other places as well, unless what is left over is as noise is already, and gives the sight with the least.
// Where that is another place than before, it is looked at from there on until it gets no better: a place may be as noise is and
// yet a tenth of a pixel off.
func (o *Optics) better(p *rectify.Photo, s *screen, best *sight) *sight {
	first, least := best.Move, best.misses()
	for ring := 1; ring <= placesOut && least > asNoise; ring++ {
		for i := 0; i < 8 && least > asNoise; i++ {
			sin, cos := math.Sincos(float64(i) * math.Pi / 4)
			v, ok := o.look(p, s, rectify.Point{X: apart * float64(ring) * cos, Y: apart * float64(ring) * sin})
			if q := v.misses(); ok && q < least {
				least, v, best = q, best, v
			}
			o.done(v)
		}
	}
	for range 4 {
		if best.Move == first {
			break
		}
		v, ok := o.look(p, s, best.Move)
		q := v.misses()
		if !ok || q >= least {
			o.done(v)
			break
		}
		o.done(best)
		least, best = q, v
	}
	return best
}

// misses is the median of what is left over, as squares over their variances.
func (v *sight) misses() float64 {
	var all []float32
	for c := range v.left {
		for k := 0; k < len(v.left[c]); k += 7 {
			e := v.left[c][k]
			all = append(all, e*e/v.noise[c][k])
		}
	}
	if len(all) == 0 {
		return math.Inf(1)
	}
	return float64(smallest(all, len(all)/2))
}

// wanders is by how much a rig moves without being bumped, photo pixels.
const wanders = 1.0

// nearer looks for a place within what a rig wanders where a white panel is as predicted.
func (o *Optics) nearer(p *rectify.Photo, s *screen) (*sight, bool) {
	const step = 0.3
	var best *sight
	least := asNoise
	for y := -wanders; y <= wanders; y += step {
		for x := -wanders; x <= wanders; x += step {
			v, ok := o.lookStill(p, s, rectify.Point{X: x, Y: y})
			if q := v.misses(); ok && q < least {
				least, v, best = q, best, v
			}
			if v != nil {
				o.done(v)
			}
		}
	}
	return best, best != nil
}

// lookStill looks at a photo that stands where move says, as that of a black panel, where nothing is lit to register by but what is
// at fault.
func (o *Optics) lookStill(p *rectify.Photo, s *screen, move rectify.Point) (*sight, bool) {
	v, _ := o.spare.Get().(*sight)
	if v == nil {
		v = &sight{}
	}
	v.Move = move
	light := o.sampler.Light(p)
	defer light.Done()
	if !o.sampler.SampleRows(light, move, &v.seen, nil) {
		return v, false
	}
	o.normalise(&v.seen, nil)
	if o.repeats {
		soften(&v.seen.Light, &v.soft[1], s.w, s.h)
	}
	o.predict(s, move, true, nil, v)
	o.settle(v)
	return v, true
}
