package photo

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
)

// A fault makes, from a screen, a golden and what the panel shows instead.
type fault struct {
	name string
	make func(r *rand.Rand, m *image.RGBA) (golden, shown *image.RGBA)
}

func clone(m image.Image) *image.RGBA {
	b := m.Bounds()
	out := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	draw.Draw(out, out.Bounds(), m, b.Min, draw.Src)
	return out
}

func fillRect(m *image.RGBA, r image.Rectangle, c color.Color) {
	draw.Draw(m, r, image.NewUniform(c), image.Point{}, draw.Src)
}

// place picks a box inside the panel.
func place(r *rand.Rand, m *image.RGBA, w, h int) image.Rectangle {
	x, y := 6+r.IntN(m.Rect.Dx()-w-12), 6+r.IntN(m.Rect.Dy()-h-12)
	return image.Rect(x, y, x+w, y+h)
}

// ink is a colour whose every channel is at least 60 levels, and at most by about 120, from c's.
func ink(r *rand.Rand, c color.RGBA) color.RGBA {
	d := uint8(60 + r.IntN(60))
	f := func(v uint8) uint8 {
		if v >= 128 {
			return v - d
		}
		return v + d
	}
	return color.RGBA{f(c.R), f(c.G), f(c.B), 255}
}

func word(r *rand.Rand, m *image.RGBA, at image.Point, c color.Color) {
	for i := range 5 {
		for j := range 8 {
			stem := r.IntN(5)
			for k := range 5 {
				if k == stem || r.IntN(3) == 0 {
					m.Set(at.X+7*i+k, at.Y+j, c)
				}
			}
		}
	}
}

var faults = []fault{
	{"changed word", func(r *rand.Rand, m *image.RGBA) (*image.RGBA, *image.RGBA) {
		b := place(r, m, 40, 14)
		back := m.RGBAAt(b.Min.X, b.Min.Y)
		c := ink(r, back)
		g, s := clone(m), clone(m)
		for _, p := range []*image.RGBA{g, s} {
			fillRect(p, b, back)
			word(r, p, b.Min.Add(image.Pt(3, 3)), c)
		}
		return g, s
	}},
	{"missing icon", func(r *rand.Rand, m *image.RGBA) (*image.RGBA, *image.RGBA) {
		b := place(r, m, 20, 20)
		back := m.RGBAAt(b.Min.X, b.Min.Y)
		g, s := clone(m), clone(m)
		fillRect(g, b, back)
		fillRect(s, b, back)
		c := ink(r, back)
		fillRect(g, image.Rect(b.Min.X+4, b.Min.Y+4, b.Min.X+16, b.Min.Y+7), c)
		fillRect(g, image.Rect(b.Min.X+9, b.Min.Y+7, b.Min.X+12, b.Min.Y+16), c)
		return g, s
	}},
	{"button moved 1 px", moved(1)}, {"button moved 2 px", moved(2)},
	{"button 5 levels off", func(r *rand.Rand, m *image.RGBA) (*image.RGBA, *image.RGBA) {
		b := place(r, m, 64, 22)
		c := color.RGBA{uint8(60 + r.IntN(130)), uint8(60 + r.IntN(130)), uint8(60 + r.IntN(130)), 255}
		g, s := clone(m), clone(m)
		fillRect(g, b, c)
		fillRect(s, b, color.RGBA{c.R + 5, c.G + 5, c.B + 5, 255})
		return g, s
	}},
	{"missing line", func(r *rand.Rand, m *image.RGBA) (*image.RGBA, *image.RGBA) {
		b := place(r, m, 100, 9)
		back := m.RGBAAt(b.Min.X, b.Min.Y)
		g, s := clone(m), clone(m)
		fillRect(g, b, back)
		fillRect(s, b, back)
		fillRect(g, image.Rect(b.Min.X, b.Min.Y+4, b.Max.X, b.Min.Y+5), ink(r, back))
		return g, s
	}},
	{"single pixel", func(r *rand.Rand, m *image.RGBA) (*image.RGBA, *image.RGBA) {
		b := place(r, m, 9, 9)
		back := m.RGBAAt(b.Min.X, b.Min.Y)
		g, s := clone(m), clone(m)
		fillRect(g, b, back)
		fillRect(s, b, back)
		s.SetRGBA(b.Min.X+4, b.Min.Y+4, ink(r, back))
		return g, s
	}},
}

func moved(by int) func(r *rand.Rand, m *image.RGBA) (*image.RGBA, *image.RGBA) {
	return func(r *rand.Rand, m *image.RGBA) (*image.RGBA, *image.RGBA) {
		b := place(r, m, 64, 26)
		back := m.RGBAAt(b.Min.X, b.Min.Y)
		c := ink(r, back)
		seed := r.Uint64()
		g, s := clone(m), clone(m)
		for i, p := range []*image.RGBA{g, s} {
			fillRect(p, b, back)
			q := image.Rect(b.Min.X+4+i*by, b.Min.Y+4, b.Max.X-6+i*by, b.Max.Y-4)
			fillRect(p, q, c)
			word(rand.New(rand.NewPCG(seed, 1)), p, q.Min.Add(image.Pt(6, 5)), back)
		}
		return g, s
	}
}

// TestCampaign counts false alarms and detections on simulated rigs. The whole of it, FASCIA_LONG=1, takes
// 8 rigs a difficulty, 250 unchanged photos a rig, that is 2,000 a difficulty, and 12 of each fault
// a rig; the sample has one rig. Beside each detection stands that of a threshold on the lowest local SSIM of
// the same photos, set so low that it gives no false alarm among the rig's unchanged photos.
//
// The chances that are given are tested too: set to one in 20 and one in 100, no more photos may alarm than the
// binomial law of that chance allows. Chances are bounds: fewer may.
func TestCampaign(t *testing.T) {
	rigs, still, each := 1, 12, 1
	levels := []simcam.Difficulty{simcam.Fair}
	long := os.Getenv("FASCIA_LONG") != ""
	if long {
		rigs, still, each, levels = 8, 250, 12, simcam.Difficulties
	}
	all := screens(t)
	for _, d := range levels {
		var n counts
		n.found, n.plain, n.shown = map[string]int{}, map[string]int{}, map[string]int{}
		for seed := range uint64(rigs) {
			var c *simcam.Camera
			var o *Optics
			if long {
				c = simcam.New(simcam.Random(seed+300, d, 320, 240), seed)
				o, _ = bench(t, c)
			} else {
				c, o = shared()
			}
			n.rig(t, o, c, d, seed, all, still, each)
		}
		t.Logf("%v: %d false alarms in %d photos; set to 1/20: %d, to 1/100: %d", d, n.alarms, n.photos, n.low20, n.low100)
		for _, f := range faults {
			t.Logf("%v: %-20s %3d of %3d; lowest SSIM %3d", d, f.name, n.found[f.name], n.shown[f.name], n.plain[f.name])
		}
		if n.alarms > 0 {
			t.Errorf("%v: %d false alarms in %d photos", d, n.alarms, n.photos)
		}
		for _, q := range []struct {
			got  int
			rate float64
		}{{n.low20, 0.05}, {n.low100, 0.01}} {
			if many := most(n.photos, q.rate, 0.005); q.got > many {
				t.Errorf("%v: set to %g, %d of %d photos alarm; the binomial law gives at most %d", d, q.rate, q.got, n.photos, many)
			}
		}
	}
}

type counts struct {
	photos, alarms, low20, low100 int
	found, plain, shown           map[string]int
}

// rig adds one rig's photos.
func (n *counts) rig(t *testing.T, o *Optics, c *simcam.Camera, d simcam.Difficulty, seed uint64, all []image.Image, still, each int) {
	least, ratio := o.Geometry.Ratio()
	r := rand.New(rand.NewPCG(seed, uint64(d)))
	worst := 1.0
	before := *n
	for i := range still {
		m := all[i%len(all)]
		res, err := o.Compare(m, c.Photo(m), Options{})
		n.photos++
		if err != nil {
			t.Errorf("%v seed %d photo %d: %v", d, seed, i, err)
			continue
		}
		if !res.Same {
			n.alarms++
			t.Logf("%v seed %d screen %d: false alarm, chance %.2g at %v", d, seed, i%len(all), res.Chance, res.At)
		}
		if res.Chance < 0.05 {
			n.low20++
		}
		if res.Chance < 0.01 {
			n.low100++
		}
		worst = min(worst, *res.SSIMMin)
	}
	for range each {
		for _, f := range faults {
			g, s := f.make(r, clone(all[r.IntN(len(all))]))
			res, err := o.Compare(g, c.Photo(s), Options{})
			if err != nil {
				t.Errorf("%v seed %d %s: %v", d, seed, f.name, err)
				continue
			}
			n.shown[f.name]++
			if !res.Same {
				n.found[f.name]++
			} else if f.name == "changed word" || f.name == "missing icon" {
				if d != simcam.Poor && least >= 1.7 {
					t.Errorf("%v seed %d: a %s was missed, chance %.2g", d, seed, f.name, res.Chance)
				}
			}
			if *res.SSIMMin < worst {
				n.plain[f.name]++
			}
		}
	}
	t.Logf("%v seed %d %v ratio %.2f least %.2f: below 1/20 %d, below 1/100 %d of %d", d, seed, c.Rig, ratio, least,
		n.low20-before.low20, n.low100-before.low100, still)
}

// most gives the most successes of n at rate p that a one-sided test of error tail accepts.
func most(n int, p, tail float64) int {
	prob := math.Pow(1-p, float64(n))
	var sum float64
	for k := range n {
		if sum += prob; sum >= 1-tail {
			return k
		}
		prob *= float64(n-k) / float64(k+1) * p / (1 - p)
	}
	return n
}
