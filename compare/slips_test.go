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
