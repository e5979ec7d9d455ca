package photo

import (
	"fmt"
	"image"
	"math"
	"math/rand/v2"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// Repeat is what a bench has learnt of photos that are held against an earlier photo of the same screen: the noise of
// both, moiré that stands elsewhere, and the threshold that follows.
type Repeat struct {
	Noise   [3][noiseTerms]float64
	White   [3][3]float64
	Allow   [3][cells]float64
	Windows []window
	Tail    tail
}

// twice gives optics for goldens that are photos themselves. Such a picture has been through the lens already: all that
// is left to predict is how the camera mixes the panel's colours.
func (o *Optics) twice() *Optics {
	o.onceMore.Do(func() {
		o.prepare()
		n := o.Geometry.Panel[0] * o.Geometry.Panel[1]
		q := &Optics{Geometry: o.Geometry, Curve: o.Curve, Tones: o.Tones, Flat: o.Flat, Dark: o.Dark, Noise: o.Noise,
			Colour: o.Colour, Drift: o.Drift, Period: o.Period, Ripple: o.Ripple, repeats: true}
		mix, _ := invert(o.Colour) // which is itself an inverse
		for c := range q.Kernel {
			q.Kernel[c] = pointwise(mix[c], c)
		}
		if r := o.Repeat; r != nil {
			q.Noise, q.White, q.Allow, q.Windows, q.Tail = r.Noise, r.White, r.Allow, r.Windows, r.Tail
		}
		q.once.Do(func() {
			q.derived = o.derived
			for c := range q.moire {
				q.moire[c] = make([]float32, n)
			}
		})
		o.second = q
	})
	return o.second
}

// pointwise is the kernel of camera channel c without any point spread: a share of each of the panel's channels.
func pointwise(mix [3]float64, c int) []float32 {
	k := make([]float32, features)
	k[same/2] = float32(mix[c])
	at := same + cross/2
	for d := range 3 {
		if d != c {
			k[at] = float32(mix[d])
			at += cross
		}
	}
	return k
}

// learnRepeat learns the threshold for goldens that are photos from second photos of trials.
func (o *Optics) learnRepeat(trials []*sight, shots []*rectify.Photo, own int) ([]*sight, error) {
	q := o.twice()
	for c := range q.Noise {
		for i := range q.Noise[c] {
			q.Noise[c][i] *= 2 // two photos' worth, to begin with
		}
	}
	var shown []*screen
	var views []*sight
	for i, p := range shots {
		s := q.screenOf(o.picture(trials[i]))
		v, ok := q.look(p, s, rectify.Point{})
		if !ok || v.Move.Norm() > 6 {
			return nil, fmt.Errorf("the second photo of trial %d does not fit the geometry: has the camera moved, or are photos out of order?", i+1)
		}
		shown, views = append(shown, s), append(views, v)
	}
	q.fitNoise(shown, views)
	for i, v := range views {
		q.variances(shown[i], v)
	}
	q.learnWindows(nil, views, own)
	o.Repeat = &Repeat{q.Noise, q.White, q.Allow, q.Windows, q.Tail}
	return views, nil
}

// leastSeen is the contrast, as a share of white, from which on a glyph that appears amid content is told at the usual
// chance: the median over views of unchanged screens, in each of which one is planted, as a lens would show it.
func (o *Optics) leastSeen(views []*sight) float64 {
	const width, height, least, most = 7, 9, 0.004, 1.0
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	r := rand.New(rand.NewPCG(7, 7))
	stem := func(x, y int) float64 { // a letter H of 5x7, within a margin of one
		if x < 1 || x > 5 || y < 1 || y > 7 || x != 1 && x != 5 && y != 4 {
			return 0
		}
		return 1
	}
	var glyph [height][width]float32
	for y := range height {
		for x := range width {
			for j := -1; j <= 1; j++ {
				for i := -1; i <= 1; i++ {
					glyph[y][x] += float32(stem(x+i, y+j)) * float32((2-i*i)*(2-j*j)) / 16
				}
			}
		}
	}
	var z [3][]float32
	var sum sums
	var found []float64
	for _, v := range views {
		at, busiest := image.Point{}, float32(-1)
		for range 20 {
			p := image.Pt(4+r.IntN(w-width-8), 4+r.IntN(h-height-8))
			var busy float32
			for y := range height {
				for x := range width {
					busy += v.edge[(p.Y+y)*w+p.X+x]
				}
			}
			if busy > busiest {
				at, busiest = p, busy
			}
		}
		add := func(by float32) {
			for c := range v.left {
				for y := range height {
					for x := range width {
						v.left[c][(at.Y+y)*w+at.X+x] += by * glyph[y][x]
					}
				}
			}
		}
		lo, hi := math.Log(least), math.Log(most)
		for range 6 {
			mid := (lo + hi) / 2
			by := float32(math.Exp(mid))
			add(by)
			o.whiten(v, &z)
			sum.total(&z, nil, w, h)
			rank, _ := o.best(&sum)
			add(-by)
			if o.Tail.chance(rank) < usualChance {
				hi = mid
			} else {
				lo = mid
			}
		}
		found = append(found, math.Exp(hi))
	}
	return median(found)
}
