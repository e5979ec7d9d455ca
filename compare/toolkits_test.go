package compare

import (
	"image"
	"image/color"
	"image/draw"
	"os"
	"testing"

	"github.com/disintegration/imaging"
)

// toolkitWindow reads a window of a real toolkit, which no threshold was set on.
func toolkitWindow(t *testing.T, name string) *image.RGBA {
	t.Helper()
	f, err := os.Open("../capture/link/cost/testdata/ui/" + name + ".png")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	m, _, err := image.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	out := image.NewRGBA(m.Bounds())
	draw.Draw(out, out.Rect, m, m.Bounds().Min, draw.Src)
	return out
}

// as565 keeps so many of each channel's bits, in the high bits of RGB565, as a firmware does that masks colours.
func as565(bits uint) func(color.RGBA) color.RGBA {
	return func(c color.RGBA) color.RGBA {
		mask := uint8(0xff) << (8 - bits)
		r, g, b := c.R&mask>>3, c.G&mask>>2, c.B&mask>>3
		return color.RGBA{r<<3 | r>>2, g<<2 | g>>4, b<<3 | b>>2, 255}
	}
}

// scaledArea draws an area of the picture at another size, its top left where it was.
func scaledArea(m *image.RGBA, area image.Rectangle, by float64) *image.RGBA {
	out := image.NewRGBA(m.Rect)
	draw.Draw(out, out.Rect, m, m.Rect.Min, draw.Src)
	part := imaging.Crop(m, area)
	part = imaging.Resize(part, int(float64(area.Dx())*by+0.5), 0, imaging.Linear)
	draw.Draw(out, area, image.NewUniform(m.At(area.Min.X, area.Min.Y)), image.Point{}, draw.Src)
	draw.Draw(out, image.Rectangle{area.Min, area.Min.Add(part.Rect.Size())}, part, image.Point{}, draw.Src)
	return out
}

func TestCausesOnToolkitWindows(t *testing.T) {
	identity := func(c color.RGBA) color.RGBA { return c }
	dim := func(c color.RGBA) color.RGBA {
		return color.RGBA{uint8(int(c.R) * 6 / 10), uint8(int(c.G) * 6 / 10), uint8(int(c.B) * 6 / 10), 255}
	}
	bilevel := func(c color.RGBA) color.RGBA {
		if c.R > 127 {
			return white
		}
		return color.RGBA{A: 255}
	}
	tests := []struct {
		name, why, window string
		golden            func(color.RGBA) color.RGBA
		capture           func(*image.RGBA) *image.RGBA
		want              string
	}{
		{"dimmed black on white", "one grey is all that there is to see the tone by", "athena-calc-a", bilevel,
			func(m *image.RGBA) *image.RGBA { return mapped(m, dim) }, "tone"},
		{"four bits within 565", "the low bits that a firmware masks off are filled from the high ones by the panel", "gtk-settings-a", as565(5),
			func(m *image.RGBA) *image.RGBA { return mapped(m, as565(4)) }, "fewer-colours"},
		{"three bits, rounded down", "levels of v*255/7 without rounding", "qt-dial-a", identity,
			func(m *image.RGBA) *image.RGBA {
				f := func(v uint8) uint8 { return uint8(int(v>>5) * 255 / 7) }
				return mapped(m, func(c color.RGBA) color.RGBA { return color.RGBA{f(c.R), f(c.G), f(c.B), 255} })
			}, "fewer-colours"},
		{"smaller letters", "strokes a pixel wide hardly overlap at another size", "gtk-list-a", identity,
			func(m *image.RGBA) *image.RGBA { return scaledArea(m, image.Rect(74, 31, 121, 43), 0.85) }, "resized"},
		{"smaller letters in a form", "the same in another toolkit's font", "qt-form-a", identity,
			func(m *image.RGBA) *image.RGBA { return scaledArea(m, image.Rect(9, 18, 53, 30), 0.85) }, "resized"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			g := mapped(toolkitWindow(t, tt.window), tt.golden)
			if r := Compare(g, tt.capture(g), Options{}); r.Causes[0].Cause != tt.want {
				t.Errorf("%+v, want %s: %s", r.Causes[0], tt.want, tt.why)
			}
		})
	}
}
