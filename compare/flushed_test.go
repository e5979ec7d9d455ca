package compare

import (
	"image"
	"image/color"
	"strings"
	"testing"
)

func TestFlushed(t *testing.T) {
	last := image.Rect(15, 15, 60, 45)
	redrawn := screen(figure(orange, 20, 20))
	tests := []struct {
		name   string
		fault  func(*image.RGBA)
		cause  string
		detail string // of kind
		says   string
	}{
		{"the last row of the area is old", fill(white, 15, 44, 45, 1), "stale", "strip", "lower edge"},
		{"the row after the area is old", fill(white, 15, 45, 45, 1), "stale", "strip", "lower edge"},
		{"the first column is old", fill(white, 15, 15, 2, 30), "stale", "strip", "left edge"},
		{"a trail beside a moved thing", func(m *image.RGBA) {
			for i := range 12 {
				m.SetRGBA(35+i/3, 25+i, white)
			}
		}, "stale", "trail", "one pixel"},
		{"noise", func(m *image.RGBA) {
			for y := 24; y < 40; y++ {
				for x := 32; x < 56; x++ {
					v := uint8(x*97 + y*57 + x*y*31)
					m.SetRGBA(x, y, color.RGBA{v, v * 3, v * 7, 255})
				}
			}
		}, "other", "noise", "line pitch"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			r := Flushed(screen(figure(orange, 20, 20), tt.fault), redrawn, last)
			if r.Same || len(r.Causes) != 1 || r.Causes[0].Cause != tt.cause || r.Causes[0].Detail["kind"] != tt.detail {
				t.Fatalf("%+v", r.Causes)
			}
			if !strings.Contains(r.Causes[0].Says, tt.says) {
				t.Errorf("says %q, want %q in it", r.Causes[0].Says, tt.says)
			}
		})
	}
	if r := Flushed(redrawn, redrawn, last); !r.Same {
		t.Errorf("no fault: %+v", r)
	}
	gone := Flushed(screen(), redrawn, last)
	if gone.Same || gone.Causes[0].Cause != "missing" {
		t.Errorf("a part that was not flushed at all: %+v", gone.Causes)
	}
}
