package rectify

import "math"

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

// Sample fills out from a photo that is moved against the geometry by move photo pixels. It
// reports false where part of the panel lies off the photo.
func (s *Sampler) Sample(p *Photo, move Point, out *Planes) bool {
	return s.SampleRows(p, move, out, nil)
}

// SampleRows is Sample for those rows of the panel that want holds for; nil wants all. The others stay as they are.
func (s *Sampler) SampleRows(p *Photo, move Point, out *Planes, want func(y int) bool) bool {
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
				clipped[y], inside[y] = s.row(p, y, dx, dy, out)
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

func (s *Sampler) row(p *Photo, y int, dx, dy float32, out *Planes) (clipped int, inside bool) {
	t := s.taps
	curve := &s.Curve
	inside = true
	for x := range s.Width {
		k := y*s.Width + x
		u, v := s.U[k]+dx, s.V[k]+dy
		iu, iv := int(u), int(v) // truncation is floor: below zero is off the photo anyway
		if iu < t/2 || iv < t/2 || iu >= p.Width-t/2-1 || iv >= p.Height-t/2-1 {
			inside = false
			for c := range out.Light {
				out.Light[c][k] = 0
			}
			continue
		}
		wx := s.weights[int((u-float32(iu))*phases)*t:][:t]
		wy := s.weights[int((v-float32(iv))*phases)*t:][:t]
		first := (iv-t/2+1)*p.Stride + 4*(iu-t/2+1)
		var r, g, b float32
		for j := range t {
			row := p.Pix[first+j*p.Stride:][: 4*t : 4*t]
			var a0, a1, a2 float32
			for i, w := range wx {
				q := row[4*i : 4*i+4 : 4*i+4]
				a0 += w * curve[q[0]]
				a1 += w * curve[q[1]]
				a2 += w * curve[q[2]]
			}
			r, g, b = r+wy[j]*a0, g+wy[j]*a1, b+wy[j]*a2
		}
		out.Light[0][k], out.Light[1][k], out.Light[2][k] = r, g, b
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
