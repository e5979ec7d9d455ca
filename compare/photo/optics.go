// Package photo decides whether a photo of a panel shows what a golden shows.
//
// A bench learns its optics from photos of patterns (Learn): the camera's curve, the panel's tone,
// colour mixing, point spread, the moiré between the panel's stripes and the camera's mosaic, and
// how much noise is left after all that. Compare then predicts how the golden would look in
// this very photo, registers the photo, and asks of every window whether what is left over is noise. The
// threshold is the chance of a false alarm over the whole panel, not a number of levels.
//
// It declines to judge where it can't: a photo in which the camera has moved, light falls on
// the pane, or something stands before the panel is an error (NoCapture), never "same".
package photo

import (
	"fmt"
	"image"
	"image/color"
	"math"
	"runtime"
	"sync"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// Optics are what a bench has learnt about its camera and panel.
type Optics struct {
	Geometry rectify.Geometry
	Bend     Bend
	Curve    Curve
	Tones    [3]Tone
	// Flat is the light of a white panel less that of a black one, Dark that of a black one, by panel
	// pixel and camera channel, smoothed, in units of the camera's full scale.
	Flat, Dark [3][]float32
	Kernel     [3][]float32 // by camera channel; see features
	Overtones  []Overtone
	Noise      [3][noiseTerms]float64
	Colour     [3][3]float64     // inverse of the panel's primaries as the camera sees them
	White      [3][3]float64     // whitening of the three channels' noise, lower triangular
	Allow      [3][cells]float64 // what predictions may be off near content, standard deviations; see learnAllow
	Windows    []window
	Tail       tail       // of the best window's rank in a block
	Drift      [3]float64 // standard deviation of each channel's gain from photo to photo
	Period     float64    // photo rows between bands of pulsed backlight; 0: none seen
	Ripple     float64    // amplitude of the bands, as a share
	Repeat     *Repeat    // for goldens that are photos; nil in optics of earlier versions
	Pane       *Pane      // for test cards; nil in optics of earlier versions

	repeats  bool // that is what these optics are for
	leans    lean // of the photos that they are for
	onceMore sync.Once
	second   *Optics // see twice
	once     sync.Once
	spare    sync.Pool // of sights
	derived
}

// What is derived follows from what is learnt; see prepare.
type derived struct {
	sampler *rectify.Sampler
	basis   [4][]float32    // cos and sin of pi u, cos and sin of pi v
	x, y    []float32       // panel position, -1 to 1
	slope   [4][]float32    // see setSlope
	bands   [2][]float32    // see setBands
	moire   [3][]float32    // its power, as a share of light; see setMoire
	pivot   pivot           // see lean
	behind  [3][2][]float32 // see setBehind
}

// learnt gives optics that have learnt the same of dumps and of the pane, and have yet to derive what follows.
func (o *Optics) learnt() *Optics {
	return &Optics{Geometry: o.Geometry, Bend: o.Bend, Curve: o.Curve, Tones: o.Tones, Flat: o.Flat, Dark: o.Dark, Kernel: o.Kernel, Overtones: o.Overtones,
		Noise: o.Noise, Colour: o.Colour, White: o.White, Allow: o.Allow, Windows: o.Windows, Tail: o.Tail, Drift: o.Drift, Period: o.Period, Ripple: o.Ripple, Pane: o.Pane}
}

// prepare makes what follows from the rest.
func (o *Optics) prepare() {
	o.once.Do(func() {
		o.sampler = rectify.NewSampler(&o.Geometry, o.Curve.Table())
		w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
		o.x, o.y = make([]float32, w), make([]float32, h)
		for x := range o.x {
			o.x[x] = 2*float32(x)/float32(w-1) - 1
		}
		for y := range o.y {
			o.y[y] = 2*float32(y)/float32(h-1) - 1
		}
		o.apply(&o.Bend)
		for c := range o.moire {
			o.moire[c] = make([]float32, w*h)
		}
		if len(o.Kernel[0]) == features {
			o.setMoire()
		}
	})
}

// setBasis makes the waves' phases.
func (o *Optics) setBasis() {
	n := len(o.sampler.U)
	for i := range o.basis {
		if len(o.basis[i]) != n {
			o.basis[i] = make([]float32, n)
		}
	}
	parallel(n, func(lo, hi int) {
		for k := lo; k < hi; k++ {
			s, c := math.Sincos(math.Pi * float64(o.sampler.U[k]))
			o.basis[0][k], o.basis[1][k] = float32(c), float32(s)
			s, c = math.Sincos(math.Pi * float64(o.sampler.V[k]))
			o.basis[2][k], o.basis[3][k] = float32(c), float32(s)
		}
	})
}

// border is how many dark pixels are laid round a panel, so that filters need no care at its edge.
const border = 2

// A screen is a picture as light of the panel's channels, with a dark border.
type screen struct {
	w, h, stride int
	light        [3][]float32
	vary         [3][]float32 // variance of light over 3x3 pixels
}

func (s *screen) at(x, y int) int { return (y+border)*s.stride + x + border }

// screenOf turns a picture into light.
func (o *Optics) screenOf(m image.Image) *screen {
	b := m.Bounds()
	s := &screen{w: b.Dx(), h: b.Dy(), stride: b.Dx() + 2*border}
	n := s.stride * (s.h + 2*border)
	for c := range 3 {
		s.light[c], s.vary[c] = make([]float32, n), make([]float32, n)
	}
	parallel(s.h, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			k := s.at(0, y)
			switch p := m.(type) {
			case *image.RGBA:
				i := p.PixOffset(b.Min.X, b.Min.Y+y)
				for x := range s.w {
					s.set(o, k+x, p.Pix[i+4*x], p.Pix[i+4*x+1], p.Pix[i+4*x+2])
				}
			case *image.NRGBA:
				i := p.PixOffset(b.Min.X, b.Min.Y+y)
				for x := range s.w {
					q := color.RGBAModel.Convert(color.NRGBA{p.Pix[i+4*x], p.Pix[i+4*x+1], p.Pix[i+4*x+2], p.Pix[i+4*x+3]}).(color.RGBA)
					s.set(o, k+x, q.R, q.G, q.B)
				}
			default:
				for x := range s.w {
					r, g, bl, _ := m.At(b.Min.X+x, b.Min.Y+y).RGBA()
					s.set(o, k+x, uint8(r>>8), uint8(g>>8), uint8(bl>>8))
				}
			}
		}
	})
	s.spread()
	return s
}

func (s *screen) set(o *Optics, k int, r, g, b uint8) {
	s.light[0][k], s.light[1][k], s.light[2][k] = o.Tones[0][r], o.Tones[1][g], o.Tones[2][b]
}

// spread fills vary.
func (s *screen) spread() {
	parallel(s.h, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			for c := range 3 {
				l := s.light[c]
				for x := range s.w {
					k := s.at(x, y)
					var a, q float32
					for j := k - s.stride; j <= k+s.stride; j += s.stride {
						u, v, t := l[j-1], l[j], l[j+1]
						a += u + v + t
						q += u*u + v*v + t*t
					}
					s.vary[c][k] = max(0, q/9-a*a/81)
				}
			}
		}
	})
}

func parallel(n int, f func(lo, hi int)) {
	k := min(runtime.GOMAXPROCS(0), n)
	if k <= 1 {
		f(0, n)
		return
	}
	var wg sync.WaitGroup
	for i := range k {
		wg.Go(func() { f(n*i/k, n*(i+1)/k) })
	}
	wg.Wait()
}

// Valid reports whether optics, perhaps read from a file, can be worked with.
func (o *Optics) Valid() error {
	if err := o.Geometry.Valid(); err != nil {
		return err
	}
	n := o.Geometry.Panel[0] * o.Geometry.Panel[1]
	for c := range 3 {
		if len(o.Flat[c]) != n || len(o.Dark[c]) != n || len(o.Kernel[c]) != features {
			return fmt.Errorf("the optics are not whole: run fascia bench align again")
		}
		for k := range n {
			if !(o.Flat[c][k] > 0) {
				return fmt.Errorf("the optics have no light at pixel %d,%d: run fascia bench align again", k%o.Geometry.Panel[0], k/o.Geometry.Panel[0])
			}
		}
		if !(o.Noise[c][0] > 0) {
			return fmt.Errorf("the optics have no noise: run fascia bench align again")
		}
	}
	for _, q := range o.Overtones {
		if q.M < 0 || q.M+max(q.N, -q.N) > highestM {
			return fmt.Errorf("the optics hold a wave of %d, %d, which is none: run fascia bench align again", q.M, q.N)
		}
	}
	if len(o.Windows) == 0 || !(o.Tail.Scale > 0) || !(o.Tail.Rate > 0) || !(o.Tail.Photos >= 1) {
		return fmt.Errorf("the optics have no threshold: run fascia bench align again")
	}
	if r := o.Repeat; r != nil && (len(r.Windows) == 0 || !(r.Tail.Scale > 0) || !(r.Tail.Rate > 0) || !(r.Tail.Photos >= 1) || !(r.Noise[0][0] > 0)) {
		return fmt.Errorf("the optics have no threshold for goldens that are photos: run fascia bench align again")
	}
	return o.Pane.valid()
}
