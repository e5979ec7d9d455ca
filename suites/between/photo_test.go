package between

import (
	"hash/fnv"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/disintegration/imaging"
)

// photographed gives a picture as a camera might see it, rectified: blurred, under another light that falls off to the
// corners, with noise. The figures are invented.
func photographed(m image.Image, seed uint64, gain [3]float64, noise float64) *image.NRGBA {
	rng := rand.New(rand.NewPCG(seed, 3))
	out := imaging.Blur(m, 0.6)
	w, h := float64(out.Rect.Dx()), float64(out.Rect.Dy())
	for y := range out.Rect.Dy() {
		for x := range out.Rect.Dx() {
			dx, dy := (float64(x)-w/2)/w, (float64(y)-h/2)/h
			for c := range 3 {
				v := &out.Pix[y*out.Stride+4*x+c]
				*v = uint8(math.Max(0, math.Min(255, (14+float64(*v)*0.86)*gain[c]*(1-0.2*(dx*dx+dy*dy))+noise*rng.NormFloat64())))
			}
		}
	}
	return out
}

// Photos of the same screens under two lights are the same; a box, and a picture that is half another, are found on each
// look that has them.
func TestPhotos(t *testing.T) {
	seeds := func(m image.Image) uint64 {
		h := fnv.New64a()
		h.Write(imaging.Clone(m).Pix)
		return h.Sum64()
	}
	first := func(m image.Image) image.Image {
		return photographed(m, seeds(m), [3]float64{1, 1, 1}, 2.5)
	}
	second := func(m image.Image) image.Image {
		return photographed(m, seeds(m)+1, [3]float64{0.82, 0.9, 0.78}, 2.5)
	}
	box := func(m image.Image) image.Image {
		out := imaging.Clone(m)
		for y := 100; y < 130; y++ {
			for x := 90; x < 150; x++ {
				out.SetNRGBA(x, y, color.NRGBA{200, 0, 200, 255})
			}
		}
		return out
	}
	run := func(other func(image.Image) image.Image) *Report {
		t.Helper()
		before, after := boardDirs(t, first, other)
		p, err := Open(before, after)
		if err != nil {
			t.Fatal(err)
		}
		r, err := p.Compare()
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Mapped) != 1 || r.Mapped[0] != "Photos: the light of after is brought to that of before, and what noise, blur and half a pixel explain is left out. Thin lines, edges of letters and small steps of colour cannot be compared." {
			t.Errorf("said %q", r.Mapped)
		}
		return r
	}
	if r := run(second); r.Differ() > 0 {
		r.Tell(os.Stderr)
		t.Errorf("%d of %d photos of the same screens differ", r.Differ(), len(r.looks))
	}
	if r := run(func(m image.Image) image.Image { return second(box(m)) }); r.Same > 0 {
		t.Errorf("the box is missed on %d of %d looks", r.Same, len(r.looks))
	}
}

// A dump is no photo, not even one that shows a picture of many colours over half of the panel.
func TestDumpsAreNoPhotos(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	wallpaper := func() *image.NRGBA {
		m := imaging.New(320, 240, color.NRGBA{240, 240, 230, 255})
		for y := range 120 {
			for x := range 320 {
				m.SetNRGBA(x, y, color.NRGBA{uint8(rng.Uint32()), uint8(rng.Uint32()), uint8(rng.Uint32()), 255})
			}
		}
		return m
	}
	a, b := wallpaper(), wallpaper()
	if photos(a, b) || photos(a, a) {
		t.Error("taken for photos")
	}
}
