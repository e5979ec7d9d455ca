package photo

import (
	"image"
	"image/color"
	_ "image/png" // of the screens
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
	"github.com/fascia-bench/fascia/capture/rectify"
)

func pt(x, y float64) rectify.Point { return rectify.Point{X: x, Y: y} }

// bench photographs all patterns with a simulated camera and learns from them.
func bench(t testing.TB, c *simcam.Camera) (*Optics, Report) {
	t.Helper()
	o, rep, err := learn(c)
	if err != nil {
		t.Fatalf("rig %v: %v", c.Rig, err)
	}
	return o, rep
}

func learn(c *simcam.Camera, own ...image.Image) (*Optics, Report, error) {
	var shots []image.Image
	patterns := Patterns(c.Rig.Width, c.Rig.Height, own...)
	for _, p := range patterns {
		shots = append(shots, c.Photo(p.Image))
	}
	return Learn(patterns, shots)
}

// screens are the approved screens of the demo.
func screens(t testing.TB) (out []image.Image) {
	t.Helper()
	files, err := filepath.Glob("../../suites/demo/golden/fernhouse-320/*/*.png")
	if err != nil || len(files) < 20 {
		t.Fatalf("only %d screens found: %v", len(files), err)
	}
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		m, _, err := image.Decode(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, m)
	}
	return out
}

// TestCurveIsThatOfTheStandards: light by level after IEC 61966-2-1 and ITU-R BT.709, of which the first is also what
// image/color's users know as sRGB.
func TestCurveIsThatOfTheStandards(t *testing.T) {
	srgb := func(v float64) float64 {
		if v <= 0.04045 {
			return v / 12.92
		}
		return math.Pow((v+0.055)/1.055, 2.4)
	}
	video := func(v float64) float64 {
		if v < 4.5*0.018 {
			return v / 4.5
		}
		return math.Pow((v+0.099)/1.099, 1/0.45)
	}
	for name, c := range map[string]struct {
		Curve
		want func(float64) float64
	}{"sRGB": {Curve{2.4, 0.055}, srgb}, "BT.709": {Curve{1 / 0.45, 0.099}, video}, "raw": {Curve{1, 0}, func(v float64) float64 { return v }},
		"power": {Curve{2.2, 0}, func(v float64) float64 { return math.Pow(v, 2.2) }}} {
		for i, got := range c.Table() {
			if want := c.want(float64(i) / 255); math.Abs(float64(got)-want) > 2e-4 {
				t.Errorf("%s: level %d is %v of light, want %v", name, i, got, want)
				break
			}
		}
	}
}

// TestLearnTakesPatternsAlone: other pictures end in a sentence.
func TestLearnTakesPatternsAlone(t *testing.T) {
	m := plain(120, 100, color.White)
	ps := Patterns(120, 100)
	for name, set := range map[string][]Pattern{"no name": {{Image: m}}, "another name": {{Name: "holiday", Image: m}}, "a half": ps[:len(ps)/2]} {
		var shots []image.Image
		for range set {
			shots = append(shots, m)
		}
		if _, _, err := Learn(set, shots); err == nil || !strings.Contains(err.Error(), "not a panel's Patterns") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, _, err := Learn(nil, nil); err == nil {
		t.Error("nothing was learnt from")
	}
}
