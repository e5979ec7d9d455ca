package compare

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"testing"
)

// bigScreen is 160x120 with content without symmetry.
func bigScreen() *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, 160, 120))
	for _, f := range []func(*image.RGBA){
		fill(dark, 0, 0, 160, 120), fill(teal, 0, 0, 160, 14), fill(white, 6, 4, 40, 6),
		figure(orange, 20, 30), figure(white, 90, 80), fill(color.RGBA{90, 60, 200, 255}, 100, 30, 33, 20),
		fill(color.RGBA{200, 200, 120, 255}, 14, 70, 50, 9),
	} {
		f(m)
	}
	for x := range 100 { // a grey ramp
		fill(color.RGBA{uint8(40 + 2*x), uint8(40 + 2*x), uint8(40 + 2*x), 255}, 30+x, 105, 1, 8)(m)
	}
	return m
}

func from(w, h int, f func(x, y int) color.RGBA) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			m.SetRGBA(x, y, f(x, y))
		}
	}
	return m
}

// TestDetails asks for the figures of every cause that has some, and for its sentence.
func TestDetails(t *testing.T) {
	g := bigScreen()
	at := g.RGBAAt
	prev := from(160, 120, func(x, y int) color.RGBA { return color.RGBA{uint8(x), uint8(y * 2), 99, 255} })
	tests := []struct {
		name    string
		capture image.Image
		cause   string
		detail  Detail
		says    string
	}{
		{"half a turn", from(160, 120, func(x, y int) color.RGBA { return at(159-x, 119-y) }), "rotated", Detail{"angle": 180}, "The picture is turned by 180 degrees clockwise: check the panel's orientation register (common practice, no source)."},
		{"a quarter clockwise", from(120, 160, func(x, y int) color.RGBA { return at(y, 119-x) }), "rotated", Detail{"angle": 90}, ""},
		{"a quarter anticlockwise", from(120, 160, func(x, y int) color.RGBA { return at(159-y, x) }), "rotated", Detail{"angle": 270}, ""},
		{"left and right", from(160, 120, func(x, y int) color.RGBA { return at(159-x, y) }), "mirrored", Detail{"axis": "x"}, ""},
		{"top and bottom", from(160, 120, func(x, y int) color.RGBA { return at(x, 119-y) }), "mirrored", Detail{"axis": "y"}, ""},
		{"offset", from(160, 120, func(x, y int) color.RGBA { return at(x-2, y+1) }), "shifted", Detail{"dx": 2, "dy": -1}, "The whole picture stands 2 px right and 1 px up from where it should: check the panel's column and row offsets (common practice, no source)."},
		{"pitch", from(160, 120, func(x, y int) color.RGBA { i := y*163 + x; return at(i%160, i/160) }), "sheared", Detail{"stride_off": 3}, ""},
		{"pitch the other way", from(160, 120, func(x, y int) color.RGBA { i := y*152 + x; return at(i%160, i/160) }), "sheared", Detail{"stride_off": -8}, ""},
		{"twice the size", from(320, 240, func(x, y int) color.RGBA { return at(x/2, y/2) }), "rescaled", Detail{"scale": 2.0}, ""},
		{"three bits", mapped(g, func(c color.RGBA) color.RGBA {
			q := func(v uint8) uint8 { return v>>5<<5 | v>>5<<2 | v>>6 }
			return color.RGBA{q(c.R), q(c.G), q(c.B), 255}
		}), "fewer-colours", Detail{"bits": 3}, ""},
		{"888 through 565", mapped(g, func(c color.RGBA) color.RGBA {
			return color.RGBA{c.R>>3<<3 | c.R>>5, c.G>>2<<2 | c.G>>6, c.B>>3<<3 | c.B>>5, 255}
		}), "fewer-colours", Detail{"bits": 5}, ""},
		{"888 through 332", mapped(g, func(c color.RGBA) color.RGBA {
			q := func(v uint8) uint8 { return v>>5<<5 | v>>5<<2 | v>>6 }
			return color.RGBA{q(c.R), q(c.G), c.B >> 6 * 85, 255}
		}), "fewer-colours", Detail{"bits": 3}, ""},
		{"blank", from(160, 120, func(int, int) color.RGBA { return color.RGBA{0, 252, 0, 255} }), "blank", Detail{"colour": "#00fc00"}, "The whole panel is #00fc00: nothing was drawn, or it was wiped."},
		{"torn", from(160, 120, func(x, y int) color.RGBA {
			if y < 43 {
				return prev.RGBAAt(x, y)
			}
			return at(x, y)
		}), "torn", Detail{"row": 43, "above": "previous"}, ""},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := Compare(g, tt.capture, Options{Previous: prev})
			c := r.Causes[0]
			if c.Cause != tt.cause || len(c.With) > 0 {
				t.Fatalf("causes %+v", r.Causes)
			}
			for k, want := range tt.detail {
				if c.Detail[k] != want {
					t.Errorf("%s is %v, want %v", k, c.Detail[k], want)
				}
			}
			if tt.says != "" && c.Says != tt.says {
				t.Errorf("says %q, want %q", c.Says, tt.says)
			}
			if s := r.Size; s.Golden != s.Capture && len(r.Regions) > 0 {
				t.Error("regions though sizes differ")
			}
		})
	}
}

func TestToneFigures(t *testing.T) {
	g := bigScreen()
	for _, want := range []struct{ gain, gamma float64 }{{0.7, 1}, {1, 1.6}, {1, 0.6}, {0.8, 1.3}, {1.2, 1}} {
		r := Compare(g, mapped(g, func(c color.RGBA) color.RGBA {
			f := func(v uint8) uint8 {
				return uint8(math.Min(255, math.Round(255*want.gain*math.Pow(float64(v)/255, want.gamma))))
			}
			return color.RGBA{f(c.R), f(c.G), f(c.B), 255}
		}), Options{})
		c := r.Causes[0]
		gain, _ := c.Detail["gain"].(float64)
		gamma, _ := c.Detail["gamma"].(float64)
		if c.Cause != "tone" || math.Abs(gain-want.gain) > 0.02 || math.Abs(gamma-want.gamma) > 0.03 {
			t.Errorf("%v: %s %v", want, c.Cause, c.Detail)
		}
	}
}

// Two greys beside black are enough for gain and gamma.
func TestToneOfThreeLevels(t *testing.T) {
	level := func(v uint8) color.RGBA { return color.RGBA{v, v, v, 255} }
	g := screen(fill(level(0), 0, 0, 80, 60), fill(level(200), 4, 4, 40, 20), figure(level(90), 60, 40), fill(level(90), 10, 40, 30, 9))
	r := Compare(g, mapped(g, func(c color.RGBA) color.RGBA {
		return level(uint8(math.Round(255 * 0.9 * math.Pow(float64(c.R)/255, 1.5))))
	}), Options{})
	c := r.Causes[0]
	gain, _ := c.Detail["gain"].(float64)
	gamma, _ := c.Detail["gamma"].(float64)
	if c.Cause != "tone" || math.Abs(gain-0.9) > 0.02 || math.Abs(gamma-1.5) > 0.03 {
		t.Errorf("%s %v", c.Cause, c.Detail)
	}
}

// A panel of black and one grey has been dimmed if black stayed and the grey is darker, but no black.
func TestDimmedPanelOfTwoLevels(t *testing.T) {
	draw := func(black, grey uint8) *image.RGBA {
		level := func(v uint8) color.RGBA { return color.RGBA{v, v, v, 255} }
		return screen(fill(level(black), 0, 0, 80, 60), fill(level(grey), 4, 4, 40, 20), figure(level(grey), 60, 40))
	}
	for _, tt := range []struct {
		was, is [2]uint8
		want    bool
		why     string
	}{
		{[2]uint8{0, 200}, [2]uint8{0, 120}, true, "it is darker"},
		{[2]uint8{0, 200}, [2]uint8{2, 40}, true, "nearly black is black"},
		{[2]uint8{0, 200}, [2]uint8{0, 4}, false, "the grey is gone"},
		{[2]uint8{0, 120}, [2]uint8{0, 200}, false, "it is brighter"},
		{[2]uint8{0, 20}, [2]uint8{0, 11}, false, "the grey was as good as black"},
		{[2]uint8{40, 200}, [2]uint8{24, 120}, false, "two greys may become any others"},
		{[2]uint8{0, 200}, [2]uint8{30, 120}, false, "black did not stay"},
	} {
		c := Compare(draw(tt.was[0], tt.was[1]), draw(tt.is[0], tt.is[1]), Options{}).Causes[0]
		if (c.Cause == "tone") != tt.want {
			t.Errorf("%v to %v: %s, want tone %v: %s", tt.was, tt.is, c.Cause, tt.want, tt.why)
		}
	}
}

// TestCompositions applies several faults and expects them in the order of application.
func TestCompositions(t *testing.T) {
	g := bigScreen()
	redBlue := func(m *image.RGBA) *image.RGBA {
		return mapped(m, func(c color.RGBA) color.RGBA { return color.RGBA{c.B, c.G, c.R, 255} })
	}
	negative := func(m *image.RGBA) *image.RGBA {
		return mapped(m, func(c color.RGBA) color.RGBA { return color.RGBA{255 - c.R, 255 - c.G, 255 - c.B, 255} })
	}
	bytes := func(m *image.RGBA) *image.RGBA { return mapped(m, swapBytes) }
	half := func(m *image.RGBA) *image.RGBA {
		return from(160, 120, func(x, y int) color.RGBA { return m.RGBAAt(159-x, 119-y) })
	}
	right := func(m *image.RGBA) *image.RGBA {
		out := from(160, 120, func(int, int) color.RGBA { return color.RGBA{0, 0, 0, 255} })
		draw.Draw(out, out.Rect.Add(image.Pt(4, 0)), m, image.Point{}, draw.Src)
		return out
	}
	tests := []struct {
		capture *image.RGBA
		want    []string
	}{
		{negative(redBlue(g)), []string{"red-blue-swapped", "inverted"}},
		{negative(bytes(redBlue(g))), []string{"red-blue-swapped", "byte-swapped", "inverted"}},
		{redBlue(bytes(g)), []string{"byte-swapped", "red-blue-swapped"}},
		{redBlue(half(g)), []string{"rotated", "red-blue-swapped"}},
		{right(negative(half(g))), []string{"rotated", "inverted", "shifted"}},
	}
	for _, tt := range tests {
		c := Compare(g, tt.capture, Options{}).Causes[0]
		got := []string{c.Cause}
		for _, w := range c.With {
			got = append(got, w.Cause)
		}
		if len(got) != len(tt.want) {
			t.Errorf("found %v, want %v", got, tt.want)
			continue
		}
		for i := range got {
			if got[i] != tt.want[i] {
				t.Errorf("found %v, want %v", got, tt.want)
				break
			}
		}
	}
}

// A picture with symmetry leaves a choice, which is told.
func TestRivals(t *testing.T) {
	g := screen(fill(orange, 10, 20, 60, 5)) // left and right alike
	flip := from(80, 60, func(x, y int) color.RGBA { return g.RGBAAt(x, 59-y) })
	c := Compare(g, flip, Options{}).Causes[0]
	if len(c.Instead) == 0 || c.Confidence > 0.5 {
		t.Fatalf("half a turn and a mirror do the same here: %+v", c)
	}
	both := map[string]bool{c.Cause: true, c.Instead[0].Cause: true}
	if !both["rotated"] || !both["mirrored"] {
		t.Errorf("%s instead of %s", c.Instead[0].Cause, c.Cause)
	}
}

// A fault of the whole panel does not hide a change of a part.
func TestWholeAndPart(t *testing.T) {
	g, changed := bigScreen(), bigScreen()
	fill(dark, 100, 30, 33, 20)(changed)
	r := Compare(g, mapped(changed, func(c color.RGBA) color.RGBA { return color.RGBA{c.B, c.G, c.R, 255} }), Options{})
	if len(r.Causes) != 2 || r.Causes[0].Cause != "red-blue-swapped" || r.Causes[1].Cause != "missing" {
		t.Errorf("causes %+v", r.Causes)
	}
	last := r.Regions[len(r.Regions)-1]
	if last.Cause != "missing" || last.Rect() != image.Rect(100, 30, 133, 50) {
		t.Errorf("the part's region %+v", last)
	}
}
