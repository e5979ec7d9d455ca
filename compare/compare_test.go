package compare

import (
	"encoding/json"
	"image"
	"image/color"
	"image/draw"
	"math/rand/v2"
	"testing"
)

var (
	dark   = color.RGBA{16, 24, 33, 255}
	white  = color.RGBA{255, 255, 255, 255}
	orange = color.RGBA{255, 130, 0, 255}
	teal   = color.RGBA{0, 130, 132, 255}
)

// screen draws a small panel with a bar, a glyph-like figure and a button.
func screen(draws ...func(*image.RGBA)) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, 80, 60))
	fill(dark, 0, 0, 80, 60)(m)
	fill(teal, 0, 0, 80, 10)(m)
	for _, d := range draws {
		d(m)
	}
	return m
}

func fill(c color.Color, x, y, w, h int) func(*image.RGBA) {
	return func(m *image.RGBA) {
		draw.Draw(m, image.Rect(x, y, x+w, y+h), image.NewUniform(c), image.Point{}, draw.Src)
	}
}

// figure is a shape without symmetry.
func figure(c color.Color, x, y int) func(*image.RGBA) {
	return func(m *image.RGBA) {
		fill(c, x, y, 3, 12)(m)
		fill(c, x, y, 9, 3)(m)
		fill(c, x+3, y+6, 4, 2)(m)
	}
}

func mapped(m *image.RGBA, f func(c color.RGBA) color.RGBA) *image.RGBA {
	out := image.NewRGBA(m.Bounds())
	for y := range m.Rect.Dy() {
		for x := range m.Rect.Dx() {
			out.SetRGBA(x, y, f(m.RGBAAt(x, y)))
		}
	}
	return out
}

func TestCauses(t *testing.T) {
	golden := screen(figure(orange, 20, 20))
	tests := []struct {
		name    string
		capture image.Image
		opt     Options
		want    string
	}{
		{"red and blue", mapped(golden, func(c color.RGBA) color.RGBA { return color.RGBA{c.B, c.G, c.R, 255} }), Options{}, "red-blue-swapped"},
		{"complement", mapped(golden, func(c color.RGBA) color.RGBA { return color.RGBA{255 - c.R, 255 - c.G, 255 - c.B, 255} }), Options{}, "inverted"},
		{"bytes", mapped(golden, swapBytes), Options{}, "byte-swapped"},
		{"blank", mapped(golden, func(color.RGBA) color.RGBA { return color.RGBA{0, 0, 0, 255} }), Options{}, "blank"},
		{"previous look", screen(figure(white, 50, 40)), Options{Previous: screen(figure(white, 50, 40))}, "stale"},
		{"new place", screen(figure(orange, 23, 21)), Options{}, "moved"},
		{"new colour", screen(figure(white, 20, 20)), Options{}, "recoloured"},
		{"gone", screen(), Options{}, "missing"},
		{"more", screen(figure(orange, 20, 20), figure(white, 50, 40)), Options{}, "added"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := Compare(golden, tt.capture, tt.opt)
			if r.Same || len(r.Causes) == 0 || r.Causes[0].Cause != tt.want {
				t.Errorf("same %v, causes %+v, want %s", r.Same, r.Causes, tt.want)
			}
		})
	}
}

// swapBytes is written apart from the comparer's: pixel as two bytes, exchanged.
func swapBytes(c color.RGBA) color.RGBA {
	hi, lo := c.R&0xf8|c.G>>5, c.G<<3&0xe0|c.B>>3
	hi, lo = lo, hi
	r, g, b := hi>>3, hi<<3&0x38|lo>>5, lo&0x1f
	return color.RGBA{r<<3 | r>>2, g<<2 | g>>4, b<<3 | b>>2, 255}
}

func TestVerdictIsExact(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	golden := screen(figure(orange, 20, 20))
	for range 500 {
		x, y, ch := rng.IntN(80), rng.IntN(60), rng.IntN(3)
		capture := screen(figure(orange, 20, 20))
		capture.Pix[capture.PixOffset(x, y)+ch] ^= 1
		r := Compare(golden, capture, Options{})
		want := Region{X: x, Y: y, W: 1, H: 1}
		if r.Same || r.Changed != 1 || len(r.Regions) != 1 || r.Regions[0].Rect() != want.Rect() {
			t.Fatalf("one level at %d,%d channel %d: same %v, changed %d, regions %+v", x, y, ch, r.Same, r.Changed, r.Regions)
		}
		mask := Options{Ignore: []image.Rectangle{image.Rect(x, y, x+1, y+1)}}
		if r := Compare(golden, capture, mask); !r.Same || *r.SSIM != 1 {
			t.Fatalf("an ignored pixel at %d,%d makes a difference: %+v", x, y, r)
		}
		beside := Options{Ignore: []image.Rectangle{image.Rect(x+1, y, x+9, y+9), image.Rect(x-9, y-9, x, y+9), {}}}
		if r := Compare(golden, capture, beside); r.Same {
			t.Fatalf("the change at %d,%d is hidden by a mask beside it", x, y)
		}
	}
}

func TestKindsOfPicture(t *testing.T) {
	golden := screen(figure(orange, 20, 20))
	odd := image.NewRGBA(image.Rect(-7, 11, 73, 71))
	draw.Draw(odd, odd.Rect, golden, image.Point{}, draw.Src)
	nrgba, wide := image.NewNRGBA(golden.Rect), image.NewRGBA64(golden.Rect)
	shifted := image.NewNRGBA64(golden.Rect)
	pal := image.NewPaletted(golden.Rect, color.Palette{dark, teal, orange})
	for y := range 60 {
		for x := range 80 {
			c := golden.RGBAAt(x, y)
			nrgba.Set(x, y, c)
			wide.Set(x, y, c)
			shifted.SetNRGBA64(x, y, color.NRGBA64{uint16(c.R) << 8, uint16(c.G) << 8, uint16(c.B) << 8, 0xffff})
			pal.Set(x, y, c)
		}
	}
	for name, m := range map[string]draw.Image{"odd origin": odd, "nrgba": nrgba, "16 bit": wide, "16 bit by shift": shifted, "indexed": pal} {
		if r := Compare(golden, m, Options{}); !r.Same {
			t.Errorf("%s: %d px differ", name, r.Changed)
		}
	}
	low := image.NewRGBA64(golden.Rect)
	copy(low.Pix, wide.Pix)
	low.Pix[8*1000+1] ^= 1
	if r := Compare(wide, low, Options{}); r.Same || r.Changed != 1 {
		t.Errorf("a low byte of a 16-bit picture: same %v, %d px", r.Same, r.Changed)
	}
	if r := Compare(golden, low, Options{}); r.Same || r.Changed != 1 {
		t.Errorf("a low byte against an 8-bit golden: same %v, %d px", r.Same, r.Changed)
	}
	nrgba.Pix[4*500+3]--
	if r := Compare(golden, nrgba, Options{}); r.Same || r.Changed != 1 {
		t.Errorf("alpha 254: same %v, %d px", r.Same, r.Changed)
	}
}

func TestResultIsTheDocumentedJSON(t *testing.T) {
	m := image.NewGray(image.Rect(0, 0, 3, 2))
	b, err := json.Marshal(Compare(m, m, Options{}))
	if err != nil {
		t.Fatal(err)
	}
	want := `{"same":true,"ssim":null,"ssim_min":null,"size":{"golden":[3,2],"capture":[3,2]},"changed":0,"causes":[],"regions":[]}`
	if string(b) != want {
		t.Errorf("got  %s\nwant %s", b, want)
	}
	if r := Compare(nil, m, Options{}); r.Same || len(r.Causes) != 1 {
		t.Errorf("no golden: %+v", r)
	}
	if r := Compare(m, image.NewUniform(white), Options{}); r.Same || len(r.Causes) != 1 {
		t.Errorf("an endless picture: %+v", r)
	}
}
