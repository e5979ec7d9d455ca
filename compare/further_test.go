package compare

import (
	"image"
	"image/color"
	"math"
	"testing"
)

// A long bar, of which only the ends change: if both went the same way it moved, and one end that went alone made it longer or
// shorter.
func TestEndsOfLongBars(t *testing.T) {
	bar := func(from, to int) image.Rectangle { return image.Rect(from, 50, to, 64) }
	tests := []struct {
		name         string
		before, next image.Rectangle
		want         string
		along        int
	}{
		{"forth", bar(9, 110), bar(11, 112), "moved", 2},
		{"back", bar(9, 110), bar(6, 107), "moved", -3},
		{"longer", bar(9, 106), bar(9, 110), "resized", 4},
		{"shorter", bar(9, 106), bar(9, 103), "resized", -3},
		{"longer at its beginning", bar(9, 106), bar(4, 106), "resized", 5},
	}
	for _, tt := range tests {
		for _, axis := range []string{"x", "y"} {
			draw := func(bar image.Rectangle) *image.RGBA {
				return from(120, 120, func(x, y int) color.RGBA {
					if axis == "y" {
						x, y = y, x
					}
					switch at := image.Pt(x, y); {
					case at.In(bar):
						return teal
					case at.In(image.Rect(20, 20, 60, 30)), at.In(image.Rect(90, 90, 97, 110)): // these stay
						return white
					}
					return dark
				})
			}
			r := Compare(draw(tt.before), draw(tt.next), Options{})
			want := Detail{"axis": axis}
			if tt.want == "moved" {
				want = Detail{"dx": 0, "dy": 0}
				want["d"+axis] = tt.along
			}
			for _, c := range r.Causes {
				for k, v := range want {
					if c.Cause != tt.want || c.Detail[k] != v {
						t.Errorf("%s along %s: %s %v, want %s %v", tt.name, axis, c.Cause, c.Detail, tt.want, want)
					}
				}
			}
		}
	}
}

// Two bars in one row that grow to the same side do so each by itself: they are not the two ends of what moved.
func TestTwoBarsThatGrowDidNotMove(t *testing.T) {
	for _, d := range []int{3, -3} {
		r := Compare(screen(fill(orange, 8, 20, 20, 8), fill(orange, 44, 20, 20, 8)),
			screen(fill(orange, 8, 20, 20+d, 8), fill(orange, 44, 20, 20+d, 8)), Options{})
		if len(r.Causes) != 1 || r.Causes[0].Cause != "resized" || r.Causes[0].Detail["axis"] != "x" || r.Causes[0].Detail["by"] != d {
			t.Errorf("by %d: %+v", d, r.Causes)
		}
	}
}

// A change besides a seam is told by itself, to the pixel.
func TestAChangeBesidesASeam(t *testing.T) {
	g := bigScreen()
	prev := from(160, 120, func(x, y int) color.RGBA { return color.RGBA{uint8(x), uint8(y * 2), 99, 255} })
	speck := image.Rect(70, 90, 75, 94)
	for _, above := range []bool{true, false} {
		r := Compare(g, from(160, 120, func(x, y int) color.RGBA {
			switch {
			case image.Pt(x, y).In(speck):
				return white
			case (y < 43) == above:
				return g.RGBAAt(x, y)
			}
			return prev.RGBAAt(x, y)
		}), Options{Previous: prev})
		n := len(r.Regions)
		if len(r.Causes) != 2 || r.Causes[0].Cause != "torn" || r.Regions[n-1].Rect() != speck || r.Regions[n-2].Cause != "torn" {
			t.Errorf("golden above %v: %+v, %+v", above, r.Causes, r.Regions)
		}
	}
}

// What a tolerance forgave is as if it had never been.
func TestForgivenPixelsAreGone(t *testing.T) {
	golden := screen(figure(orange, 20, 20))
	moved, both := screen(figure(orange, 25, 22)), screen(figure(orange, 25, 22), fill(white, 70, 55, 2, 2), fill(white, 2, 2, 1, 1))
	want, got := newPair(load(golden), load(moved), nil), newPair(load(golden), load(both), nil)
	got.relax([]Tolerance{{SmallerThan: 5}})
	if got.changed != want.changed || got.box != want.box {
		t.Errorf("%d px in %v, want %d in %v", got.changed, got.box, want.changed, want.box)
	}
}

// Where one channel has all its levels, the picture has no fewer colours; where none has, it is told how many bits are left.
func TestEveryChannelHasFewerBits(t *testing.T) {
	ramp := from(96, 64, func(x, y int) color.RGBA { return color.RGBA{uint8(2*x + y), uint8(255 - 2*x), uint8(3*y + x/2), 255} })
	for bits := 1; bits <= 6; bits++ {
		cut := func(v uint8) uint8 { return uint8(replicate(int(v)>>(8-bits), bits, 8)) }
		for full := range 4 { // the channel that is not cut; 3 is none
			c := Compare(ramp, mapped(ramp, func(c color.RGBA) color.RGBA {
				out := color.RGBA{cut(c.R), cut(c.G), cut(c.B), 255}
				switch full {
				case 0:
					out.R = c.R
				case 1:
					out.G = c.G
				case 2:
					out.B = c.B
				}
				return out
			}), Options{}).Causes[0]
			if found := c.Cause == "fewer-colours"; found != (full == 3) || found && c.Detail["bits"] != bits {
				t.Errorf("%d bits, but for channel %d: %s %v", bits, full, c.Cause, c.Detail)
			}
		}
	}
}

// However the levels that are left were widened to eight bits, they are seen to be so few.
func TestLevelsWidenedInEveryWay(t *testing.T) {
	ramp := from(128, 64, func(x, y int) color.RGBA { return color.RGBA{uint8(2 * x), uint8(255 - 4*y), uint8(x + 2*y), 255} })
	for name, widen := range map[string]func(v, bits int) int{
		"to the nearest":   func(v, bits int) int { return int(math.Round(float64(v) * 255 / float64(int(1)<<bits-1))) },
		"rounded down":     func(v, bits int) int { return v * 255 / (1<<bits - 1) },
		"by a shift":       func(v, bits int) int { return v << (8 - bits) },
		"by repeated bits": func(v, bits int) int { return replicate(v, bits, 8) },
	} {
		for bits := 1; bits <= 6; bits++ {
			level := func(v uint8) uint8 { return uint8(widen(int(v)>>(8-bits), bits)) }
			c := Compare(ramp, mapped(ramp, func(c color.RGBA) color.RGBA {
				return color.RGBA{level(c.R), level(c.G), level(c.B), 255}
			}), Options{}).Causes[0]
			if c.Cause != "fewer-colours" || c.Detail["bits"] != bits {
				t.Errorf("%d bits, widened %s: %s %v", bits, name, c.Cause, c.Detail)
			}
		}
	}
}

// Pictures of another size that have nothing on them, or one pixel.
func TestEmptyScreensOfAnotherSize(t *testing.T) {
	flat := func(w, h int, v uint8) image.Image {
		return from(w, h, func(int, int) color.RGBA { return color.RGBA{v, v, v, 255} })
	}
	for _, tt := range []struct {
		golden, capture image.Image
		want            string
	}{
		{flat(80, 60, 90), flat(160, 120, 90), "rescaled"},
		{flat(80, 60, 90), flat(160, 120, 130), "other"},
		{flat(80, 60, 130), flat(160, 120, 90), "other"},
		{flat(80, 60, 90), flat(160, 121, 90), "rescaled"},
		{flat(80, 60, 90), flat(160, 140, 90), "other"},
		{flat(1, 1, 90), flat(2, 2, 90), "rescaled"},
		{flat(80, 60, 90), bigScreen(), "other"},
		{flat(80, 60, 90), nil, "other"},
		{nil, flat(80, 60, 90), "other"},
	} {
		if c := Compare(tt.golden, tt.capture, Options{}).Causes[0]; c.Cause != tt.want {
			t.Errorf("%v and %v: %+v, want %s", sizeOf(tt.golden), sizeOf(tt.capture), c, tt.want)
		}
	}
}

// Two things of one size that share a few pixels are two things: one is gone, the other came.
func TestUnlikeThingsDidNotMove(t *testing.T) {
	cross := func(x, y int) func(*image.RGBA) {
		return func(m *image.RGBA) { fill(orange, x+4, y, 1, 9)(m); fill(orange, x, y+4, 9, 1)(m) }
	}
	ring := func(x, y int) func(*image.RGBA) {
		return func(m *image.RGBA) { fill(orange, x, y, 9, 9)(m); fill(dark, x+1, y+1, 7, 7)(m) }
	}
	gradient := func(m *image.RGBA) {
		for y := range 60 {
			fill(color.RGBA{20, uint8(30 + 3*y), 60, 255}, 0, y, 80, 1)(m)
		}
	}
	solid := func(x, y int) func(*image.RGBA) { return fill(orange, x, y, 9, 9) }
	frame := func(x, y int) func(*image.RGBA) {
		return func(m *image.RGBA) { fill(orange, x, y, 9, 9)(m); fill(white, x+1, y+1, 7, 7)(m) }
	}
	type draw func(x, y int) func(*image.RGBA)
	for _, ground := range []func(*image.RGBA){func(*image.RGBA) {}, gradient} {
		for _, tt := range [][2]draw{{cross, ring}, {ring, cross}, {solid, frame}, {frame, solid}} {
			r := Compare(screen(ground, tt[0](10, 20)), screen(ground, tt[1](50, 40)), Options{})
			if len(r.Regions) != 2 || r.Regions[0].Cause != "missing" || r.Regions[1].Cause != "added" {
				t.Errorf("%+v", r.Regions)
			}
		}
		for _, thing := range []draw{cross, solid, frame} {
			r := Compare(screen(ground, thing(10, 20)), screen(ground, thing(50, 40)), Options{})
			if len(r.Causes) != 1 || r.Causes[0].Cause != "moved" || r.Causes[0].Detail["dx"] != 40 || r.Causes[0].Detail["dy"] != 20 {
				t.Errorf("the same thing: %+v", r.Causes)
			}
		}
	}
}
