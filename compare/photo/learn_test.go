package photo

import (
	"fmt"
	"image"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
	_ "image/png"
)

// bench photographs all patterns with a simulated camera and learns from them.
func bench(t testing.TB, c *simcam.Camera) (*Optics, Report) {
	t.Helper()
	var shots []image.Image
	for _, p := range Patterns(c.Rig.Width, c.Rig.Height) {
		shots = append(shots, c.Photo(p.Image))
	}
	o, rep, err := Learn(c.Rig.Width, c.Rig.Height, shots)
	if err != nil {
		t.Fatalf("rig %v: %v", c.Rig, err)
	}
	return o, rep
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

func TestTry(t *testing.T) {
	for _, d := range []simcam.Difficulty{simcam.Good, simcam.Poor} {
		for seed := range uint64(2) {
			c := simcam.New(simcam.Random(seed+200, d, 320, 240), seed)
			o, rep := bench(t, c)
			_, ratio := o.Geometry.Ratio()
			fmt.Printf("%v ratio %.2f curve %.3f halftone %.4f tail %+v period %.1f ripple %.4f drift %.4f clipped %.3f\n noise %.2g\n", c.Rig, ratio, o.Curve, rep.HalfTone, rep.Tail, o.Period, o.Ripple, o.Drift, rep.Clipped, o.Noise)
			var scores []float64
			for i, m := range screens(t) {
				if i%9 != 0 {
					continue
				}
				p := c.Photo(m)
				s := o.screenOf(m)
				v, ok := o.look(rectifyPhoto(p), s, origin)
				if !ok {
					t.Fatal("no look")
				}
				var z [3][]float32
				o.whiten(v, &z)
				rank, at := o.best(totals(&z, nil, s.w, s.h))
				scores = append(scores, o.chance(rank))
				tx, ty := c.Truth(160, 120)
				q := o.Geometry.ToPhoto(pt(160, 120))
				if i%9 == 0 {
					var e [3]float64
					for c := range e {
						for _, x := range v.left[c] {
							e[c] += float64(x*x) / float64(len(v.left[c]))
						}
						e[c] = math.Sqrt(e[c])
					}
					fmt.Printf("  %d chance %.2g rank %.1f at %v move err %.3f %.3f gain %.3f rms %.4f\n", i, o.chance(rank), rank, at, q.X+v.Move.X-tx, q.Y+v.Move.Y-ty, v.Gain, e)
				}
			}
		}
	}
}
