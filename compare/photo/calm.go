package photo

import (
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// An even card's moiré is a sum of waves whose lengths geometry tells, while their strengths drift over the panel more than
// a prediction follows. So on a card they are fitted again, tile by tile, to the very photo that is looked at.
const (
	tileSide   = 20 // whose waves are taken out
	tileReach  = 8  // that much around is fitted along
	orders     = 4  // waves of M and N pi, up to that many in all
	noMoire    = 0.35
	wavePrior  = 0.05 // how strong a wave may well be, as a share of light
	calmRounds = 2
	tooFar     = 3 // standard deviations, from which on a pixel has less of a say
)

// calm gives what is left over of a card without the moiré that is in it.
func (o *Optics) calm(v *sight) *[3][]float32 {
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	var out [3][]float32
	for c := range out {
		out[c] = make([]float32, w*h)
		copy(out[c], v.left[c])
	}
	var kinds [][2]int
	for m := 0; m <= orders; m++ {
		for n := -orders; n <= orders; n++ {
			if m+max(n, -n) <= orders && (m > 0 || n > 0) {
				kinds = append(kinds, [2]int{m, n})
			}
		}
	}
	across, down := (w+tileSide-1)/tileSide, (h+tileSide-1)/tileSide
	parallel(across*down, func(lo, hi int) {
		t := newTile(o, kinds)
		for i := lo; i < hi; i++ {
			t.calm(v, &out, i%across*tileSide, i/across*tileSide)
		}
	})
	return &out
}

// A tile is where waves are fitted.
type tile struct {
	o     *Optics
	kinds [][2]int
	f     []float64   // the waves at one pixel
	fits  []float64   // those of all that are fitted, a row each
	at    []int       // which pixels
	a     [][]float64 // normal equations
}

func newTile(o *Optics, kinds [][2]int) *tile {
	t := &tile{o: o, kinds: kinds, f: make([]float64, 2*len(kinds)), a: make([][]float64, 2*len(kinds))}
	for i := range t.a {
		t.a[i] = make([]float64, 2*len(kinds)+1)
	}
	return t
}

// waves fills f for a pixel of a photo that is moved.
func (t *tile) waves(k int, move rectify.Point) {
	su, cu := math.Sincos(math.Pi * (float64(t.o.sampler.U[k]) + move.X))
	sv, cv := math.Sincos(math.Pi * (float64(t.o.sampler.V[k]) + move.Y))
	var u, w [orders + 1]complex128
	u[0], w[0] = 1, 1
	for i := 1; i <= orders; i++ {
		u[i], w[i] = u[i-1]*complex(cu, su), w[i-1]*complex(cv, sv)
	}
	for i, q := range t.kinds {
		z := w[max(q[1], -q[1])]
		if q[1] < 0 {
			z = complex(real(z), -imag(z))
		}
		z *= u[q[0]]
		t.f[2*i], t.f[2*i+1] = real(z), imag(z)
	}
}

// calm takes the waves out of a tile whose corner is at x0, y0.
func (t *tile) calm(v *sight, out *[3][]float32, x0, y0 int) {
	w, h := t.o.Geometry.Panel[0], t.o.Geometry.Panel[1]
	n := len(t.f)
	t.at, t.fits = t.at[:0], t.fits[:0]
	for y := max(rim, y0-tileReach); y < min(h-rim, y0+tileSide+tileReach); y++ {
		for x := max(rim, x0-tileReach) + y%2; x < min(w-rim, x0+tileSide+tileReach); x += 2 {
			k := y*w + x
			t.waves(k, v.Move)
			t.at, t.fits = append(t.at, k), append(t.fits, t.f...)
		}
	}
	var sol [3][]float64
	for c := range sol {
		sol[c] = make([]float64, n)
		for range calmRounds {
			for i := range t.a {
				clear(t.a[i])
				t.a[i][i] = 1 / (wavePrior * wavePrior)
			}
			for i, k := range t.at {
				e, f := float64(v.left[c][k]), t.fits[i*n:][:n]
				if math.Abs(e) > noMoire {
					continue
				}
				r := e
				for j, s := range sol[c] {
					r -= s * f[j]
				}
				weight := 1 / float64(v.noise[c][k])
				if q := r * r * weight / (tooFar * tooFar); q > 1 {
					weight /= q
				}
				for j, a := range f {
					row, wf := t.a[j], weight*a
					for l := j; l < n; l++ {
						row[l] += wf * f[l]
					}
					row[n] += wf * e
				}
			}
			for j := range t.a {
				for l := range j {
					t.a[j][l] = t.a[l][j]
				}
			}
			if s, ok := rectify.Solve(t.a); ok {
				copy(sol[c], s)
			}
		}
	}
	for y := y0; y < min(h, y0+tileSide); y++ {
		for x := x0; x < min(w, x0+tileSide); x++ {
			k := y*w + x
			t.waves(k, v.Move)
			for c := range out {
				for j, s := range sol[c] {
					out[c][k] -= float32(s * t.f[j])
				}
			}
		}
	}
}
