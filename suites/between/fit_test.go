package between

import (
	"image"
	"image/color"
	"testing"

	"github.com/disintegration/imaging"
)

// row draws a list row as wide as the panel: an icon at the left, a word in the middle, an arrow at the right, and a line
// under it all.
func row(w int, icon, word, arrow bool) *image.NRGBA {
	m := imaging.New(w, 48, color.NRGBA{250, 248, 240, 255})
	put := func(r image.Rectangle, c color.NRGBA) {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				if (x+y-r.Min.X-r.Min.Y)%5 != 0 { // so that it is no plain box
					m.SetNRGBA(x, y, c)
				}
			}
		}
	}
	if icon {
		put(image.Rect(8, 12, 32, 36), color.NRGBA{40, 110, 150, 255})
	}
	if word {
		put(image.Rect(w/2-30, 16, w/2+30, 30), color.NRGBA{20, 30, 25, 255})
	}
	if arrow {
		put(image.Rect(w-24, 16, w-12, 32), color.NRGBA{100, 110, 100, 255})
	}
	for x := range w {
		m.SetNRGBA(x, 47, color.NRGBA{220, 214, 196, 255})
	}
	return m
}

// What keeps its place at the left, in the middle or at the right is the same on a panel of another width or height; what
// is gone, or new, is not taken for ground.
func TestFitting(t *testing.T) {
	const word, icon, arrow = 60 * 14 * 4 / 5, 24 * 24 * 4 / 5, 12 * 16 * 4 / 5
	tests := []struct {
		name          string
		before, after *image.NRGBA
		changed       int // pixels at least; 0: none
	}{
		{"narrower", row(320, true, true, true), row(240, true, true, true), 0},
		{"wider", row(240, true, true, true), row(320, true, true, true), 0},
		{"arrow gone", row(320, true, true, true), row(240, true, true, false), arrow},
		{"word gone", row(320, true, true, true), row(240, true, false, true), word},
		{"icon gone", row(320, true, true, true), row(240, false, true, true), icon},
		{"arrow gone, wider", row(240, true, true, true), row(320, true, true, false), arrow},
		{"word new", row(320, true, false, true), row(240, true, true, true), word},
		{"word new, wider", row(240, true, false, true), row(320, true, true, true), word},
	}
	for _, tt := range tests {
		for _, across := range []bool{true, false} {
			before, after := tt.before, tt.after
			if !across {
				before, after = imaging.Transpose(before), imaging.Transpose(after)
			}
			fitted := fitting(newShot(before, nil), newShot(after, nil), across)(before)
			if fitted.Rect != after.Rect {
				t.Fatalf("%s: %v, want %v", tt.name, fitted.Rect, after.Rect)
			}
			n := 0
			for i := 0; i < len(after.Pix); i += 4 {
				if [3]uint8(fitted.Pix[i:i+3]) != [3]uint8(after.Pix[i:i+3]) {
					n++
				}
			}
			if n < tt.changed || tt.changed == 0 && n > 0 {
				t.Errorf("%s, across %v: %d px differ, want at least %d, or none if that is 0", tt.name, across, n, tt.changed)
			}
		}
	}
}

// An area that one side leaves out is left out where it comes to lie on the common panel, and nowhere else.
func TestAreasOfTwoBoards(t *testing.T) {
	before := imaging.New(320, 240, color.NRGBA{240, 240, 230, 255})
	for y := 40; y < 200; y += 20 { // lines, by which a turn is told
		for x := 30; x < 90; x++ {
			before.SetNRGBA(x, y, color.NRGBA{0, 60, 40, 255})
		}
	}
	marked := func(r image.Rectangle) *image.NRGBA {
		m := imaging.Clone(before)
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				m.SetNRGBA(x, y, color.NRGBA{200, 0, 0, 255})
			}
		}
		return m
	}
	clock, elsewhere := image.Rect(252, 2, 312, 22), image.Rect(100, 120, 160, 140)
	tests := []struct {
		name  string
		there func(image.Image) *image.NRGBA // to the other board
		area  image.Rectangle                // the clock, on the other board
	}{
		{"turned", imaging.Rotate90, image.Rect(2, 8, 22, 68)},
		{"larger", func(m image.Image) *image.NRGBA { return imaging.Resize(m, 480, 360, imaging.NearestNeighbor) }, image.Rect(378, 3, 468, 33)},
		{"smaller", func(m image.Image) *image.NRGBA { return imaging.Resize(m, 160, 120, imaging.Box) }, image.Rect(126, 1, 156, 11)},
		{"lower", func(m image.Image) *image.NRGBA { return imaging.Crop(m, image.Rect(0, 0, 320, 216)) }, clock},
	}
	for _, tt := range tests {
		for side, areas := range [2][2][]image.Rectangle{{{clock}, nil}, {nil, {tt.area}}} {
			for _, c := range []struct {
				where image.Rectangle
				same  bool
			}{{clock, true}, {elsewhere, false}} {
				var b boards
				was, is := b.onOne(newShot(before, areas[0]), newShot(tt.there(marked(c.where)), areas[1]))
				if same := apart(was, is) == 0; was.Bounds().Size() != is.Bounds().Size() || same != c.same {
					t.Errorf("%s, the area said by side %d, changed at %v: same is %v, want %v", tt.name, side, c.where, same, c.same)
				}
			}
		}
	}
}
