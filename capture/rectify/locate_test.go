package rectify

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"os"
	"sort"
	"testing"

	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
)

func solid(w, h int, c color.Color) image.Image {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(m, m.Bounds(), image.NewUniform(c), image.Point{}, draw.Src)
	return m
}

// viewsOf photographs the patterns; the truth of each grid photo is returned too.
func viewsOf(c *simcam.Camera, s simcam.Shot) Views {
	w, h := c.Rig.Width, c.Rig.Height
	take := func(m image.Image) *Photo { return NewPhoto(c.Take(m, s)) }
	g := NewGrid(w, h)
	v := Views{Quarters: take(Quarters(w, h)), White: take(solid(w, h, color.White)), Black: take(solid(w, h, color.Black))}
	v.Grids = []*Photo{take(g.Image(false)), take(g.Image(true))}
	return v
}

// misses gives the distances, in panel pixels, between geometry and truth, after taking out the
// mean movement, which registration of each photo finds.
func misses(c *simcam.Camera, g *Geometry) []float64 {
	var d []Point
	var mean Point
	for y := 0; y < g.Panel[1]; y += 8 {
		for x := 0; x < g.Panel[0]; x += 8 {
			p := Point{float64(x), float64(y)}
			u, v := c.Truth(p.X, p.Y)
			q := g.ToPhoto(p).Sub(Point{u, v})
			d = append(d, q)
			mean.X, mean.Y = mean.X+q.X, mean.Y+q.Y
		}
	}
	var out []float64
	for _, q := range d {
		q = q.Sub(Point{mean.X / float64(len(d)), mean.Y / float64(len(d))})
		least, _ := g.Ratio()
		out = append(out, q.Norm()/least)
	}
	sort.Float64s(out)
	return out
}

// TestLocateOnRandomRigs asks for the accuracy the bench needs: median below 0.1 and 95th percentile
// below 0.25 panel px at good and fair, 0.15 and 0.35 at poor.
func TestLocateOnRandomRigs(t *testing.T) {
	rigs := 2
	if os.Getenv("FASCIA_LONG") != "" {
		rigs = 24
	}
	for _, d := range simcam.Difficulties {
		worst, worst95 := 0.0, 0.0
		for seed := range uint64(rigs) {
			r := simcam.Random(seed+100, d, 320, 240)
			c := simcam.New(r, seed)
			g, fit, err := Locate(320, 240, viewsOf(c, simcam.Shot{}))
			if err != nil {
				t.Errorf("%v seed %d, %v: %v", d, seed, r, err)
				continue
			}
			m := misses(c, g)
			med, p95 := m[len(m)/2], m[len(m)*95/100]
			worst, worst95 = max(worst, med), max(worst95, p95)
			lim, lim95 := 0.1, 0.25
			if d == simcam.Poor {
				lim, lim95 = 0.15, 0.35
			}
			if med > lim || p95 > lim95 {
				t.Errorf("%v seed %d, %v: median %.3f, 95th percentile %.3f panel px; fit %+v", d, seed, r, med, p95, fit)
			}
		}
		t.Logf("%v, %d rigs: worst median %.4f, worst 95th percentile %.4f panel px", d, rigs, worst, worst95)
	}
}

// TestLocateWithHiddenCornerAndGlare covers a corner with a hand and puts a strong reflection on the pane.
func TestLocateWithHiddenCornerAndGlare(t *testing.T) {
	for seed := range uint64(3) {
		r := simcam.Random(seed+40, simcam.Fair, 320, 240)
		c := simcam.New(r, seed)
		x, y := r.Truth(318, 2)
		gx, gy := r.Truth(100, 150)
		v := viewsOf(c, simcam.Shot{Hand: []simcam.Patch{{X: x, Y: y, Radius: 70, Level: 0.02}}, Glare: []simcam.Patch{{X: gx, Y: gy, Radius: 40, Level: 0.2}}})
		g, fit, err := Locate(320, 240, v)
		if err != nil {
			t.Errorf("seed %d, %v: %v", seed, r, err)
			continue
		}
		if m := misses(c, g); m[len(m)/2] > 0.1 || m[len(m)*95/100] > 0.25 || fit.Crossings == fit.Possible {
			t.Errorf("seed %d, %v: median %.3f, 95th percentile %.3f panel px; fit %+v", seed, r, m[len(m)/2], m[len(m)*95/100], fit)
		}
	}
}

func TestOrientation(t *testing.T) {
	for turns := range 4 {
		r := simcam.Random(7, simcam.Good, 200, 160)
		r.Turns, r.Tilt = turns, 0.1
		c := simcam.New(r, 1)
		g, fit, err := Locate(200, 160, viewsOf(c, simcam.Shot{}))
		if err != nil {
			t.Fatalf("%d quarter turns: %v", turns, err)
		}
		if m := misses(c, g); m[len(m)-1] > 0.5 || fit.Mirrored {
			t.Errorf("%d quarter turns: up to %.2f px off, mirrored %v", turns, m[len(m)-1], fit.Mirrored)
		}
		if turns > 1 {
			continue // a mirror does to these what it does to the first two
		}
		v := viewsOf(c, simcam.Shot{})
		for _, p := range append([]*Photo{v.White, v.Black, v.Quarters}, v.Grids...) {
			flip(p)
		}
		if _, fit, err = Locate(200, 160, v); err != nil || !fit.Mirrored {
			t.Errorf("%d quarter turns in a mirror: mirrored %v, error %v", turns, fit.Mirrored, err)
		}
	}
}

func flip(p *Photo) {
	for y := range p.Height {
		for a, b := 0, p.Width-1; a < b; a, b = a+1, b-1 {
			for k := range 4 {
				i, j := y*p.Stride+4*a+k, y*p.Stride+4*b+k
				p.Pix[i], p.Pix[j] = p.Pix[j], p.Pix[i]
			}
		}
	}
}

func TestLocateRefuses(t *testing.T) {
	r := simcam.Random(1, simcam.Good, 160, 120)
	c := simcam.New(r, 1)
	good := viewsOf(c, simcam.Shot{})
	dark := NewPhoto(image.NewRGBA(image.Rect(0, 0, 1920, 1080)))
	small := NewPhoto(image.NewRGBA(image.Rect(0, 0, 640, 480)))
	for name, v := range map[string]Views{
		"everything dark":    {White: dark, Black: dark, Quarters: dark, Grids: []*Photo{dark}},
		"another size":       {White: good.White, Black: small, Quarters: good.Quarters, Grids: good.Grids},
		"patterns exchanged": {White: good.White, Black: good.Black, Quarters: good.White, Grids: good.Grids},
		"no grid":            {White: good.White, Black: good.Black, Quarters: good.Quarters, Grids: []*Photo{good.White}},
	} {
		if _, _, err := Locate(160, 120, v); err == nil {
			t.Errorf("%s: no error", name)
		} else {
			t.Logf("%s: %v", name, err)
		}
	}
}

func TestGeometryInverse(t *testing.T) {
	r := simcam.Random(5, simcam.Good, 320, 240)
	g, _, err := Locate(320, 240, viewsOf(simcam.New(r, 5), simcam.Shot{}))
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []Point{{0, 0}, {319, 0}, {160.25, 77}, {319, 239}} {
		q, ok := g.ToPanel(g.ToPhoto(p))
		if !ok || q.Sub(p).Norm() > 1e-6 {
			t.Errorf("%v comes back as %v", p, q)
		}
	}
	if math.IsNaN(g.Lens.K1) {
		t.Error("lens is not a number")
	}
}
