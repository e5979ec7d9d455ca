package compare

import (
	"image"
	"image/color"
	"testing"
)

// TestStandingStill tells a picture that was not redrawn from one that was to stay.
func TestStandingStill(t *testing.T) {
	old := screen(figure(orange, 20, 20), fill(teal, 50, 20, 20, 10))
	// The firmware's new style has another teal, everywhere.
	restyled := mapped(old, func(c color.RGBA) color.RGBA {
		if c == teal {
			return color.RGBA{0, 160, 90, 255}
		}
		return c
	})
	next := screen(figure(white, 45, 35))
	row := screen(figure(orange, 20, 20), fill(white, 0, 59, 80, 1))
	tests := []struct {
		name            string
		golden, capture image.Image
		opt             Options
		want            string
	}{
		{"not redrawn", next, old, Options{Previous: old}, "stale"},
		{"not redrawn, and the golden changed", next, old, Options{Previous: old, PreviousGolden: old}, "stale"},
		{"a new style, and nothing was to change", old, restyled, Options{Previous: restyled}, "recoloured"},
		{"the same, with the previous golden", old, restyled, Options{Previous: restyled, PreviousGolden: old}, "recoloured"},
		{"the last row was not flushed", screen(figure(orange, 20, 20)), row, Options{Previous: screen(fill(white, 0, 59, 80, 1), figure(teal, 9, 20))}, "stale"},
		{"not redrawn, and a pixel ignored", next, old, Options{Previous: old, Ignore: []image.Rectangle{image.Rect(0, 0, 1, 1)}}, "stale"},
		{"redrawn, and a pixel ignored", next, row, Options{Previous: old, Ignore: []image.Rectangle{image.Rect(0, 0, 1, 1)}}, "other"},
		{"previous of another size means nothing", next, old, Options{Previous: image.NewRGBA(image.Rect(0, 0, 9, 9))}, "other"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := Compare(tt.golden, tt.capture, tt.opt)
			if tt.want == "other" { // anything but a story about the previous look
				if c := r.Causes[0].Cause; c == "stale" || c == "torn" {
					t.Errorf("causes %+v", r.Causes)
				}
				return
			}
			if r.Causes[0].Cause != tt.want {
				t.Errorf("causes %+v, want %s", r.Causes, tt.want)
			}
		})
	}
}

// Where the new picture had just begun, it is a seam and not the old picture with a few pixels besides.
func TestSeamNearTheEdge(t *testing.T) {
	g := bigScreen()
	prev := from(160, 120, func(x, y int) color.RGBA { return color.RGBA{uint8(x), uint8(y * 2), 99, 255} })
	for _, tt := range []struct {
		row   int
		above string
	}{{2, "golden"}, {118, "previous"}} {
		r := Compare(g, from(160, 120, func(x, y int) color.RGBA {
			if (y < tt.row) == (tt.above == "golden") {
				return g.RGBAAt(x, y)
			}
			return prev.RGBAAt(x, y)
		}), Options{Previous: prev})
		if c := r.Causes[0]; c.Cause != "torn" || c.Detail["row"] != tt.row || c.Detail["above"] != tt.above {
			t.Errorf("%s above row %d: %s %v", tt.above, tt.row, c.Cause, c.Detail)
		}
	}
}
