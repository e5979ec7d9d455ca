package compare

import (
	"image"
	"image/color"
	"testing"
)

// dot draws a little figure of three by four pixels in two colours on black.
func dot(at image.Point) *image.NRGBA {
	m := image.NewNRGBA(image.Rect(0, 0, 64, 48))
	for i := 3; i < len(m.Pix); i += 4 {
		m.Pix[i] = 0xff
	}
	for y := range 4 {
		for x := range 3 {
			c := color.NRGBA{0xff, 0xd0, 0x20, 0xff}
			if (x+y)%3 == 0 {
				c = color.NRGBA{0x20, 0x90, 0xff, 0xff}
			}
			m.SetNRGBA(at.X+x, at.Y+y, c)
		}
	}
	return m
}

// Found by changing the code: no other test has something so small that moves, or that moves from the panel's edge.
func TestSmallThingsMove(t *testing.T) {
	for _, tt := range []struct {
		name     string
		from, to image.Point
	}{
		{"inside", image.Pt(20, 20), image.Pt(25, 20)},
		{"from the left edge", image.Pt(0, 20), image.Pt(6, 20)},
		{"to the upper edge", image.Pt(20, 7), image.Pt(20, 0)},
		{"along the right edge", image.Pt(61, 10), image.Pt(61, 17)},
		{"along the lower edge", image.Pt(30, 44), image.Pt(37, 44)},
	} {
		r := Compare(dot(tt.from), dot(tt.to), Options{})
		if len(r.Causes) != 1 || r.Causes[0].Cause != "moved" {
			t.Errorf("%s: %+v", tt.name, r.Causes)
			continue
		}
		if dx, dy := r.Causes[0].Detail["dx"], r.Causes[0].Detail["dy"]; dx != tt.to.X-tt.from.X || dy != tt.to.Y-tt.from.Y {
			t.Errorf("%s: moved by %v, %v", tt.name, dx, dy)
		}
	}
}

// What was done to a whole screen is found again to the pixel: every displacement, pitch and seam, in both directions, on a
// panel where all displacements are tried and on one where landmarks vote.
func TestWhatWasDoneIsFound(t *testing.T) {
	for _, size := range []image.Point{{100, 90}, {160, 120}} {
		g := cropped(bigScreen(), image.Rectangle{Max: size})
		w, h := size.X, size.Y
		at := g.RGBAAt // no colour and so black where nothing was
		prev := from(w, h, func(x, y int) color.RGBA { return color.RGBA{uint8(x), uint8(y * 2), 99, 255} })
		find := func(what string, opt Options, want Detail, f func(x, y int) color.RGBA) {
			t.Helper()
			c := Compare(g, from(w, h, f), opt).Causes[0]
			for k, v := range want {
				if c.Cause != what || c.Detail[k] != v {
					t.Errorf("%dx%d: %s %v, want %s %v", w, h, c.Cause, c.Detail, what, want)
				}
			}
		}
		for _, d := range []image.Point{{1, 0}, {-1, 0}, {0, 1}, {0, -1}, {5, 3}, {-5, 3}, {5, -3}, {-5, -3}, {12, -7}, {-2, 14}, {20, 0}, {0, -20}} {
			find("shifted", Options{}, Detail{"dx": d.X, "dy": d.Y}, func(x, y int) color.RGBA { return at(x-d.X, y-d.Y) })
		}
		for _, k := range []int{1, -1, 2, -3, 8, -8, 31, -30} {
			find("sheared", Options{}, Detail{"stride_off": k}, func(x, y int) color.RGBA { i := y*(w+k) + x; return at(i%w, i/w) })
		}
		for _, row := range []int{5, 14, 50, h - 30, h - 12} {
			for _, above := range []string{"golden", "previous"} {
				find("torn", Options{Previous: prev}, Detail{"row": row, "above": above}, func(x, y int) color.RGBA {
					if (y < row) == (above == "golden") {
						return at(x, y)
					}
					return prev.RGBAAt(x, y)
				})
			}
		}
	}
}

// On a large panel full of text a displacement is found however far it goes, also in other colours.
func TestFarDisplacements(t *testing.T) {
	size := image.Pt(240, 180)
	list := []thing{{r: image.Rectangle{Max: size}, c: dark}}
	for y := 4; y < size.Y; y += 18 {
		list = append(list, thing{kind: 3, r: image.Rect(6, y, size.X-6, y+12), c: []color.RGBA{white, orange, teal}[y%3], seed: uint64(y), smooth: true})
	}
	g := paint(list, size)
	for _, d := range []image.Point{{37, -25}, {-50, 31}, {60, 40}, {-33, -47}, {18, 17}} {
		for _, swapped := range []bool{false, true} {
			c := Compare(g, from(size.X, size.Y, func(x, y int) color.RGBA {
				c := g.RGBAAt(x-d.X, y-d.Y)
				if swapped {
					c.R, c.B = c.B, c.R
				}
				return c
			}), Options{}).Causes[0]
			shift := c
			if swapped && len(c.With) == 1 && c.Cause == "red-blue-swapped" {
				shift = c.With[0]
			}
			if shift.Cause != "shifted" || shift.Detail["dx"] != d.X || shift.Detail["dy"] != d.Y || swapped != (len(c.With) == 1) {
				t.Errorf("by %v, swapped %v: %+v", d, swapped, c)
			}
		}
	}
}

// A mark of the panel that stayed where it was speaks against a displacement of all.
func TestWhatStayedSpeaksAgainstADisplacement(t *testing.T) {
	for _, size := range []image.Point{{130, 120}, {160, 120}} {
		g := cropped(bigScreen(), image.Rectangle{Max: size})
		mark := image.Rect(60, 50, 74, 60)
		fill(white, 60, 50, 14, 10)(g)
		for _, stays := range []bool{false, true} {
			c := Compare(g, from(size.X, size.Y, func(x, y int) color.RGBA {
				switch at := image.Pt(x, y); {
				case stays && at.In(mark):
					return white
				case stays && at.In(mark.Add(image.Pt(5, 3))):
					return dark
				}
				return g.RGBAAt(x-5, y-3)
			}), Options{}).Causes[0]
			if (c.Cause == "shifted") == stays {
				t.Errorf("%v, the mark stays %v: %s %v", size, stays, c.Cause, c.Detail)
			}
		}
	}
}

// A further change does not hide a fault of the whole panel, wherever it stands, and is told beside it.
func TestAChangeBesidesADisplacement(t *testing.T) {
	g := bigScreen()
	for _, d := range []image.Point{{7, 4}, {-7, -4}} {
		for _, b := range []image.Rectangle{{image.Pt(0, 40), image.Pt(6, 52)}, {image.Pt(154, 40), image.Pt(160, 52)},
			{image.Pt(60, 0), image.Pt(80, 6)}, {image.Pt(60, 114), image.Pt(80, 120)}} {
			box := b.Add(d).Intersect(g.Rect)
			r := Compare(g, from(160, 120, func(x, y int) color.RGBA {
				if image.Pt(x, y).In(box) {
					return color.RGBA{250, 30, 160, 255}
				}
				return g.RGBAAt(x-d.X, y-d.Y)
			}), Options{})
			// What stands where nothing came from is not known to be wrong.
			known := box.Intersect(g.Rect.Add(d).Intersect(g.Rect))
			last := r.Regions[len(r.Regions)-1]
			if r.Causes[0].Cause != "shifted" || !known.Empty() && (len(r.Causes) != 2 || last.Rect() != known) {
				t.Errorf("by %v, with a box at %v: %+v, last region %v", d, known, r.Causes, last.Rect())
			}
		}
	}
}

// Two figures in each other's colours, of which part of one is gone and a third came, have as a whole rather the golden's
// stock of colours. They are exchanged all the same.
func TestExchangedColoursBesidesAChange(t *testing.T) {
	blue := color.RGBA{0, 130, 255, 255}
	grey := color.RGBA{66, 66, 66, 255}
	ground := fill(grey, 0, 0, 80, 60)
	r := Compare(screen(ground, fill(orange, 10, 20, 10, 12), fill(blue, 40, 20, 10, 10)),
		screen(ground, fill(blue, 10, 20, 10, 12), fill(orange, 40, 20, 10, 10), fill(grey, 12, 22, 4, 3), fill(orange, 66, 40, 5, 4)), Options{})
	if r.Causes[0].Cause != "red-blue-swapped" {
		t.Errorf("%+v", r.Causes)
	}
}

// A panel that keeps its sides was not turned by a quarter, though its rows may be read as if it had been.
func TestNoQuarterTurnKeepsTheSides(t *testing.T) {
	g := bigScreen()
	r := Compare(g, from(160, 120, func(x, y int) color.RGBA {
		i := (159-x)*120 + y // as if 120 stood in a row
		return g.RGBAAt(i%160, i/160)
	}), Options{})
	for _, c := range r.Causes {
		if c.Cause == "rotated" && c.Detail["angle"] != 180 {
			t.Errorf("%+v", c)
		}
	}
}

// Of a blank panel the panel's colour is named, not that of a speck in its first pixel or of what is ignored.
func TestBlankBehindASpeck(t *testing.T) {
	blank := screen(fill(color.RGBA{0, 40, 0, 255}, 0, 0, 80, 60), fill(white, 0, 0, 1, 1))
	for _, opt := range []Options{{}, {Ignore: []image.Rectangle{image.Rect(0, 0, 3, 3)}}} {
		c := Compare(screen(figure(orange, 20, 20)), blank, opt).Causes[0]
		if c.Cause != "blank" || c.Detail["colour"] != "#002800" {
			t.Errorf("%+v", c)
		}
	}
}

// What a tolerance forgave stretches the change no more: a corner that became darker is no darker panel.
func TestForgivenPixelsAreOutOfTheQuestion(t *testing.T) {
	draw := func(more ...func(*image.RGBA)) *image.RGBA {
		return screen(append([]func(*image.RGBA){fill(color.Black, 0, 0, 80, 60)}, more...)...)
	}
	golden := draw(fill(orange, 60, 45, 9, 9), fill(white, 62, 47, 4, 5))
	dim := func(c color.RGBA) color.RGBA { return color.RGBA{c.R / 2, c.G / 2, c.B / 2, 255} }
	darker := draw(fill(dim(orange), 60, 45, 9, 9), fill(dim(white), 62, 47, 4, 5))
	speck := draw(fill(dim(orange), 60, 45, 9, 9), fill(dim(white), 62, 47, 4, 5), fill(white, 2, 2, 2, 1))
	opt := Options{Tolerances: []Tolerance{{SmallerThan: 5, Reason: "a speck"}}}
	want, got := Compare(golden, darker, opt), Compare(golden, speck, opt)
	if len(got.Relaxed) != 1 || len(got.Causes) != len(want.Causes) || got.Causes[0].Says != want.Causes[0].Says {
		t.Errorf("with a forgiven speck %+v, without %+v", got.Causes, want.Causes)
	}
}
