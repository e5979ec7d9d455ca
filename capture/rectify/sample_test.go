package rectify

import (
	"image"
	"image/color"
	"math"
	"testing"
)

// TestSampleKeepsRamps: an even area stays as it is, and a ramp stays a ramp at any phase.
func TestSampleKeepsRamps(t *testing.T) {
	g := &Geometry{Panel: [2]int{40, 30}, Photo: [2]int{140, 110}, Plane: Homography{2.37 / 140, 0.03 / 140, -50.0 / 140, 0.02 / 140, 2.29 / 140, -36.0 / 140, 0, 0, 1}}
	m := image.NewRGBA(image.Rect(0, 0, 140, 110))
	for y := range 110 {
		for x := range 140 {
			m.SetRGBA(x, y, color.RGBA{77, uint8(x), uint8(y), 255})
		}
	}
	var line [256]float32
	for i := range line {
		line[i] = float32(i)
	}
	s := NewSampler(g, line)
	var out Planes
	if !s.Sample(NewPhoto(m), Point{0.4, -0.3}, &out) {
		t.Fatal("the panel lies on the photo")
	}
	for k := range out.Light[0] {
		u, v := float64(s.U[k])+0.4, float64(s.V[k])-0.3
		for c, want := range [3]float64{77, u, v} {
			if got := float64(out.Light[c][k]); math.Abs(got-want) > 0.03 {
				t.Fatalf("channel %d of panel pixel %d: %v, want %v", c, k, got, want)
			}
		}
	}
	if by := s.Moved(func(u, v float32) Point { return Point{0.01 * float64(v), -0.01 * float64(u)} }); !by.Sample(NewPhoto(m), Point{}, &out) {
		t.Error("a photo that is turned a little is off the photo")
	}
	for k, u := range s.U {
		if want, got := float64(u)+0.01*float64(s.V[k]), float64(out.Light[1][k]); math.Abs(got-want) > 0.03 {
			t.Fatalf("panel pixel %d of a photo that is turned: %v, want %v", k, got, want)
		}
	}
	if s.Sample(NewPhoto(m), Point{40, 0}, &out) {
		t.Error("a panel off the photo is sampled")
	}
	rows := s.SampleRows(s.Light(NewPhoto(m)), Point{}, &out, func(y int) bool { return y == 3 })
	if !rows || math.Abs(float64(out.Light[1][3*40])-float64(s.U[3*40])) > 0.03 {
		t.Error("a single row is not sampled")
	}
}
