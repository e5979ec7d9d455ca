package rectify

import (
	"math"
	"slices"
	"sync"

	"github.com/fascia-bench/fascia/internal/rows"
)

// Planes are a photo on the panel's grid: light, 0 to 1, in each of the camera's channels.
type Planes struct {
	Width, Height int
	Light         [3][]float32
	Clipped       int // samples with a photo pixel at full scale under their middle
}

// A Sampler resamples photos of one size on the panel's grid.
type Sampler struct {
	Width, Height int
	Photo         [2]int
	U, V          []float32 // where each panel pixel's centre is seen, photo pixels
	Curve         [256]float32
	taps          int
	weights       []float32 // of phases x taps
}

// phases is into how many parts a photo pixel is divided for the weights. At an edge of full contrast a
// step of one part changes what is seen by less than noise does.
const phases = 256

// NewSampler makes the tables for a geometry; curve turns the photo's levels into light. The weights are Kaiser's
// window, nearly a Gaussian of a standard deviation of 0.4 panel pixels, which ends without a step. A cut-off
// Gaussian's ends would let the panel's own grid through, at every beat of it with the photo's pixels.
func NewSampler(g *Geometry, curve [256]float32) *Sampler {
	w, h := g.Panel[0], g.Panel[1]
	s := &Sampler{Width: w, Height: h, Photo: g.Photo, Curve: curve, U: make([]float32, w*h), V: make([]float32, w*h)}
	parallel(h, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			for x := range w {
				q := g.ToPhoto(Point{float64(x), float64(y)})
				s.U[y*w+x], s.V[y*w+x] = float32(q.X), float32(q.Y)
			}
		}
	})
	_, ratio := g.Ratio()
	half := max(2, math.Round(1.2*ratio))
	s.taps = 2 * int(half)
	s.weights = make([]float32, phases*s.taps)
	for k := range phases {
		var sum float64
		at := func(i int) float64 {
			d := (float64(i) - (half - 1) - (float64(k)+0.5)/phases) / half
			return bessel0(sidelobes * math.Sqrt(max(0, 1-d*d)))
		}
		for i := range s.taps {
			sum += at(i)
		}
		for i := range s.taps {
			s.weights[k*s.taps+i] = float32(at(i) / sum)
		}
	}
	return s
}

// sidelobes is the parameter of Kaiser's window: what it lets through beyond its main lobe is 0.3 %.
const sidelobes = 7

// bessel0 is the modified Bessel function of the first kind and order 0, by its power series.
func bessel0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; term > 1e-12*sum; k++ {
		term *= x * x / (4 * k * k)
		sum += term
	}
	return sum
}

// Sample fills out from a photo that is moved against the geometry by move photo pixels, at most farthest. It
// reports false where part of the panel lies off the photo.
func (s *Sampler) Sample(p *Photo, move Point, out *Planes) bool {
	l := s.Light(p)
	defer l.Done()
	return s.SampleRows(l, move, out, nil)
}

// farthest is how far a photo may have moved, in photo pixels.
const farthest = 40

// Light is what a photo shows of the panel and close around it, as light.
type Light struct {
	photo        *Photo
	x, y, stride int
	w, h         int
	pix          []float32 // R, G, B, unused
}

// spare are the buffers of lights that are done with; they are large.
var spare sync.Pool

// Light turns what is needed of a photo into light, for several calls of SampleRows.
func (s *Sampler) Light(p *Photo) *Light {
	lo, hi := [2]float32{s.U[0], s.V[0]}, [2]float32{s.U[0], s.V[0]}
	for k, u := range s.U {
		v := s.V[k]
		lo[0], lo[1], hi[0], hi[1] = min(lo[0], u), min(lo[1], v), max(hi[0], u), max(hi[1], v)
	}
	margin := farthest + s.taps/2 + 2
	l, _ := spare.Get().(*Light)
	if l == nil {
		l = &Light{}
	}
	l.photo = p
	l.x, l.y = min(max(0, int(lo[0])-margin), p.Width), min(max(0, int(lo[1])-margin), p.Height)
	l.w, l.h = max(0, min(p.Width, int(hi[0])+margin)-l.x), max(0, min(p.Height, int(hi[1])+margin)-l.y)
	l.stride = 4 * l.w
	l.pix = slices.Grow(l.pix[:0], l.stride*l.h)[:l.stride*l.h]
	curve := &s.Curve
	parallel(l.h, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			from := p.Pix[(l.y+y)*p.Stride+4*l.x:][:l.stride]
			to := l.pix[y*l.stride:][:len(from)]
			for i := 0; i+4 <= len(from); i += 4 {
				f, t := from[i:i+4:i+4], to[i:i+4:i+4]
				t[0], t[1], t[2] = curve[f[0]], curve[f[1]], curve[f[2]]
			}
		}
	})
	return l
}

// Done says that a light is no longer needed.
func (l *Light) Done() {
	l.photo = nil
	spare.Put(l)
}

// SampleRows is Sample for those rows of the panel that want holds for; nil wants all. The others stay as they are.
func (s *Sampler) SampleRows(l *Light, move Point, out *Planes, want func(y int) bool) bool {
	n := s.Width * s.Height
	if out.Width != s.Width || out.Height != s.Height {
		*out = Planes{Width: s.Width, Height: s.Height}
		for c := range out.Light {
			out.Light[c] = make([]float32, n)
		}
	}
	clipped := make([]int, s.Height)
	inside := make([]bool, s.Height)
	dx, dy := float32(move.X), float32(move.Y)
	parallel(s.Height, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			inside[y] = true
			if want == nil || want(y) {
				clipped[y], inside[y] = s.row(l, y, dx, dy, out)
			}
		}
	})
	out.Clipped = 0
	ok := true
	for y := range clipped {
		out.Clipped += clipped[y]
		ok = ok && inside[y]
	}
	return ok
}

func (s *Sampler) row(l *Light, y int, dx, dy float32, out *Planes) (clipped int, inside bool) {
	t, p := s.taps, l.photo
	inside = true
	us, vs := s.U[y*s.Width:][:s.Width], s.V[y*s.Width:][:s.Width]
	red, green, blue := out.Light[0][y*s.Width:][:s.Width], out.Light[1][y*s.Width:][:s.Width], out.Light[2][y*s.Width:][:s.Width]
	var spot [4]float32
	for x := range us {
		u, v := us[x]+dx, vs[x]+dy
		iu, iv := int(u), int(v) // truncation is floor: below zero is off the photo anyway
		left, top := iu-t/2+1-l.x, iv-t/2+1-l.y
		if left < 0 || top < 0 || left+t > l.w || top+t > l.h {
			inside = false
			red[x], green[x], blue[x] = 0, 0, 0
			continue
		}
		wx := s.weights[int((u-float32(iu))*phases)*t:][:t]
		wy := s.weights[int((v-float32(iv))*phases)*t:][:t]
		rows.Spot(&spot, l.pix[top*l.stride+4*left:], l.stride, wx, wy)
		red[x], green[x], blue[x] = spot[0], spot[1], spot[2]
		if q := p.Pix[iv*p.Stride+4*iu:]; q[0] == 255 || q[1] == 255 || q[2] == 255 {
			clipped++
		}
	}
	return clipped, inside
}

// NewPlanes returns planes of zeros.
func NewPlanes(w, h int) *Planes {
	p := &Planes{Width: w, Height: h}
	for c := range p.Light {
		p.Light[c] = make([]float32, w*h)
	}
	return p
}

// Moved gives a sampler for photos in which what is seen at u, v is seen elsewhere by so many photo pixels.
func (s *Sampler) Moved(by func(u, v float32) Point) *Sampler {
	q := *s
	q.U, q.V = make([]float32, len(s.U)), make([]float32, len(s.V))
	for k, u := range s.U {
		d := by(u, s.V[k])
		q.U[k], q.V[k] = u+float32(d.X), s.V[k]+float32(d.Y)
	}
	return &q
}
