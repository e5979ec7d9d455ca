package rectify

import (
	"image"
	"image/draw"
	"runtime"
	"sync"
)

// A Photo is a picture as the camera gave it, four bytes a pixel from (0, 0) on.
type Photo struct {
	Width, Height, Stride int
	Pix                   []byte // R, G, B, unused
}

// NewPhoto takes a picture over; an image.RGBA or image.NRGBA is not copied.
func NewPhoto(m image.Image) *Photo {
	b := m.Bounds()
	switch p := m.(type) {
	case *image.RGBA:
		return &Photo{b.Dx(), b.Dy(), p.Stride, p.Pix[p.PixOffset(b.Min.X, b.Min.Y):]}
	case *image.NRGBA:
		return &Photo{b.Dx(), b.Dy(), p.Stride, p.Pix[p.PixOffset(b.Min.X, b.Min.Y):]}
	}
	out := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	parallel(b.Dy(), func(lo, hi int) {
		draw.Draw(out, image.Rect(0, lo, b.Dx(), hi), m, image.Pt(b.Min.X, b.Min.Y+lo), draw.Src)
	})
	return &Photo{b.Dx(), b.Dy(), out.Stride, out.Pix}
}

// parallel runs f over n rows in bands, one band a processor.
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

// A plane is one number a photo pixel.
type plane struct {
	w, h int
	pix  []float32
}

func newPlane(w, h int) *plane { return &plane{w, h, make([]float32, w*h)} }

// grey is the mean of the channels; patterns for geometry are black and white.
func (p *Photo) grey() *plane {
	out := newPlane(p.Width, p.Height)
	parallel(p.Height, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			row := p.Pix[y*p.Stride:]
			for x := range p.Width {
				out.pix[y*p.Width+x] = (float32(row[4*x]) + 2*float32(row[4*x+1]) + float32(row[4*x+2])) / 4
			}
		}
	})
	return out
}

// blur smooths a plane by the kernel (1 2 1)/4 in both directions, n times: a standard
// deviation of sqrt(n/2).
func (p *plane) blur(n int) *plane {
	in := p
	for range n {
		mid, out := newPlane(p.w, p.h), newPlane(p.w, p.h)
		parallel(p.h, func(lo, hi int) {
			for y := lo; y < hi; y++ {
				r, o := in.pix[y*p.w:(y+1)*p.w], mid.pix[y*p.w:(y+1)*p.w]
				o[0], o[p.w-1] = r[0], r[p.w-1]
				for x := 1; x < p.w-1; x++ {
					o[x] = (r[x-1] + 2*r[x] + r[x+1]) / 4
				}
			}
		})
		parallel(p.h, func(lo, hi int) {
			for y := lo; y < hi; y++ {
				a, b, c := mid.pix[max(y-1, 0)*p.w:], mid.pix[y*p.w:], mid.pix[min(y+1, p.h-1)*p.w:]
				o := out.pix[y*p.w : (y+1)*p.w]
				for x := range o {
					o[x] = (a[x] + 2*b[x] + c[x]) / 4
				}
			}
		})
		in = out
	}
	return in
}

// at interpolates between pixels; outside it is what stands at the edge.
func (p *plane) at(q Point) float64 {
	x, y := min(max(q.X, 0), float64(p.w-1)-1e-6), min(max(q.Y, 0), float64(p.h-1)-1e-6)
	i, j := int(x), int(y)
	fx, fy := float32(x)-float32(i), float32(y)-float32(j)
	r := p.pix[j*p.w+i:]
	s := r[p.w:]
	return float64((r[0]*(1-fx)+r[1]*fx)*(1-fy) + (s[0]*(1-fx)+s[1]*fx)*fy)
}
