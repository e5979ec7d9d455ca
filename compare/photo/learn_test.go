package photo

import (
	"image"
	_ "image/png" // of the screens
	"os"
	"path/filepath"
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
