package compare

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"
)

// The fast path, in Go and in assembly where there is one, against the plain path, at
// sizes around the width of a strip and a multiple of four.
func TestSSIMFastAgainstPlain(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	sizes := []image.Point{{11, 11}, {12, 11}, {11, 40}, {13, 30}, {74, 20}, {75, 21}, {73, 19}, {138, 33}, {139, 210}, {320, 240}, {701, 120}}
	for _, s := range sizes {
		a, b := newLumaPlane(s.X, s.Y), newLumaPlane(s.X, s.Y)
		for _, share := range []float64{1, 0.3, 0.01, 0.0005} {
			for i := range a {
				a[i] = uint8(rng.IntN(256))
				b[i] = a[i]
				if rng.Float64() < share {
					b[i] = uint8(rng.IntN(256))
				}
				if share == 0.3 { // flat and bright, where sums cancel most
					a[i], b[i] = 250+a[i]%3, 250+b[i]%4
				}
			}
			want := make([]float64, (s.X-10)*(s.Y-10))
			mean, low, _ := ssimPlain(a, b, s.X, s.Y, want)
			for name, k := range map[string]kernels{"chosen": fastest, "go": {filterRowGo, scoreRowGo}} {
				got := make([]float64, len(want))
				m, l, at := ssimFast(k, a, b, s.X, s.Y, got)
				if math.Abs(m-mean) > 1e-9 || math.Abs(l-low) > 1e-9 {
					t.Errorf("%v, %s, %v changed: mean %v min %v, want %v %v", s, name, share, m, l, mean, low)
				}
				for i := range got {
					if math.Abs(got[i]-want[i]) > 1e-9 {
						t.Fatalf("%v, %s: window %d,%d scores %v, want %v", s, name, i%(s.X-10), i/(s.X-10), got[i], want[i])
					}
				}
				if p := at.Sub(image.Pt(5, 5)); math.Abs(want[p.Y*(s.X-10)+p.X]-low) > 1e-9 {
					t.Errorf("%v, %s: the window at %v is not the worst", s, name, at)
				}
			}
		}
	}
}

func TestSSIMProperties(t *testing.T) {
	a, b := screen(figure(orange, 20, 20)), screen(figure(teal, 23, 22))
	m1, l1, at1, _ := SSIM(a, b)
	m2, l2, at2, _ := SSIM(b, a)
	if math.Abs(m1-m2) > epsilon || math.Abs(l1-l2) > epsilon || at1 != at2 {
		t.Errorf("%v %v %v one way, %v %v %v the other", m1, l1, at1, m2, l2, at2)
	}
	if m, l, _, ok := SSIM(a, a); !ok || m != 1 || l != 1 {
		t.Errorf("of itself: %v %v", m, l)
	}
	if _, _, _, ok := SSIMChannels(a, b); !ok {
		t.Error("channels are not defined")
	}
	grey := image.NewGray(a.Rect)
	for i := range grey.Pix {
		grey.Pix[i] = uint8(i * 7)
	}
	other := image.NewGray(a.Rect)
	mean, _, _, _ := SSIM(grey, other)
	r, g, bl, _ := SSIMChannels(grey, other)
	if r.Mean != mean || g.Mean != mean || bl.Mean != mean {
		t.Errorf("of a grey picture channels score %v %v %v, luma %v", r.Mean, g.Mean, bl.Mean, mean)
	}
}

// Sizes at the limits do what the documentation says.
func TestSizes(t *testing.T) {
	pic := func(w, h int, c color.Color) image.Image {
		m := image.NewRGBA(image.Rect(0, 0, w, h))
		fill(c, 0, 0, w, h)(m)
		return m
	}
	for _, tt := range []struct {
		w, h   int
		scored bool
		why    string
	}{
		{1, 1, false, "smaller than the window"},
		{10, 10, false, "smaller than the window"},
		{10, 200, false, "one side smaller than the window"},
		{11, 11, true, "one window"},
		{4000, 3000, true, "large"},
	} {
		a, b := pic(tt.w, tt.h, dark), pic(tt.w, tt.h, white)
		r := Compare(a, b, Options{})
		if r.Same || r.Changed != tt.w*tt.h || (r.SSIM != nil) != tt.scored || len(r.Causes) == 0 {
			t.Errorf("%dx%d, %s: %+v", tt.w, tt.h, tt.why, r)
		}
		if _, ok := Map(a, b); ok != tt.scored {
			t.Errorf("%dx%d, %s: map %v", tt.w, tt.h, tt.why, ok)
		}
	}
}

func TestMap(t *testing.T) {
	a, b := screen(), screen(fill(white, 40, 30, 1, 1))
	m, ok := Map(a, b)
	if !ok || m.Rect != a.Rect {
		t.Fatalf("map %v", m)
	}
	mean, low, at, _ := SSIM(a, b)
	if got := m.GrayAt(at.X, at.Y).Y; math.Abs(float64(got)/255-max(0, low)) > 0.002 || mean >= 1 {
		t.Errorf("at %v: grey %d, want the score %v", at, got, low)
	}
	for y := range 60 {
		for x := range 80 {
			far := x < 35 || x > 45 || y < 25 || y > 35
			if got := m.GrayAt(x, y).Y; far && got != 255 {
				t.Fatalf("at %d,%d: grey %d, want white", x, y, got)
			}
		}
	}
}
