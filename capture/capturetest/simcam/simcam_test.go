package simcam

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"testing"
)

func solid(c color.Color) image.Image {
	m := image.NewRGBA(image.Rect(0, 0, 320, 240))
	draw.Draw(m, m.Bounds(), image.NewUniform(c), image.Point{}, draw.Src)
	return m
}

func TestSquareStandsWhereTheTruthSays(t *testing.T) {
	for seed := range uint64(4) {
		c := New(Random(seed, Good, 320, 240), seed)
		m := solid(color.Black).(*image.RGBA)
		draw.Draw(m, image.Rect(30, 170, 51, 191), image.White, image.Point{}, draw.Src)
		p := c.Take(m, Shot{Turn: 0.005 * float64(seed)}) // which moves the square by some pixels
		u0, v0 := c.Truth(40, 180)
		var sum, su, sv float64
		for v := int(v0) - 60; v < int(v0)+60; v++ {
			for u := int(u0) - 60; u < int(u0)+60; u++ {
				l := float64(p.RGBAAt(u, v).G) / 255
				l = math.Pow(l, 2.2)
				if l < 0.05 {
					l = 0
				}
				sum, su, sv = sum+l, su+l*float64(u), sv+l*float64(v)
			}
		}
		if d := math.Hypot(su/sum-u0, sv/sum-v0); d > 0.3 {
			t.Errorf("seed %d: centre of the square is %.2f px from the truth: perspective alone moves a centre less", seed, d)
		}
	}
}

func TestBendAndUnbendAreInverse(t *testing.T) {
	for seed := range uint64(20) {
		r := Random(seed, Good, 320, 240)
		for _, p := range [][2]float64{{0, 0}, {0.6, 0.35}, {-0.5, 0.2}} {
			x, y := r.unbend(p[0], p[1])
			u, v := r.bend(x, y)
			if math.Hypot(u-p[0], v-p[1]) > 1e-9 {
				t.Errorf("rig %v: %v comes back as %v, %v", r, p, u, v)
			}
			px, py := r.pose().back(p[0], p[1])
			if u, v := r.pose().see(px, py); math.Hypot(u-p[0], v-p[1]) > 1e-9 {
				t.Errorf("rig %v: the plane's %v comes back as %v, %v", r, p, u, v)
			}
		}
	}
}

func TestAWhitePanelStaysBelowSaturation(t *testing.T) {
	for _, d := range Difficulties {
		c := New(Random(3, d, 320, 240), 3)
		p := c.Photo(solid(color.White))
		u, v := c.Truth(160, 120)
		var n, clipped, sum int
		for y := int(v) - 40; y < int(v)+40; y++ {
			for x := int(u) - 40; x < int(u)+40; x++ {
				g := int(p.RGBAAt(x, y).G)
				n, sum = n+1, sum+g
				if g == 255 {
					clipped++
				}
			}
		}
		if mean := sum / n; mean < 160 || mean > 235 || clipped > n/50 {
			t.Errorf("%v: white is %d with %d of %d clipped", d, mean, clipped, n)
		}
	}
}

func BenchmarkPhoto(b *testing.B) {
	c := New(Random(1, Fair, 320, 240), 1)
	m := solid(color.White)
	for b.Loop() {
		c.Photo(m)
	}
}
