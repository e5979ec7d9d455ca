package photo

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"

	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
)

// shared is a bench that several tests look through, since learning one takes seconds, and wide one with photos of 1920x1080, for
// benchmarks.
var (
	shared = once(glassRig(2.06, simcam.Fair, 3, 1))
	wide   = once(simcam.Random(301, simcam.Fair, 320, 240))
)

func once(r simcam.Rig) func() (*simcam.Camera, *Optics) {
	return sync.OnceValues(func() (*simcam.Camera, *Optics) {
		c := simcam.New(r, 1)
		o, _, err := learn(c)
		if err != nil {
			panic(err)
		}
		return c, o
	})
}

// TestWhatIsNoCapture: each of these must end in a sentence of its own, and never in "same".
func TestWhatIsNoCapture(t *testing.T) {
	c, o := shared()
	m := screens(t)[10]
	x, y := c.Rig.Truth(200, 120)
	ex, ey := c.Rig.Truth(319, 200)
	nearRig := c.Rig
	nearRig.Fill = 0.95
	nearer, white := simcam.New(nearRig, 1), plain(320, 240, color.White)
	otherRig := simcam.Random(305, simcam.Fair, 320, 240)
	otherRig.PhotoWidth, otherRig.PhotoHeight, otherRig.Focal = c.Rig.PhotoWidth, c.Rig.PhotoHeight, c.Rig.Focal
	if res, err := o.Compare(m, simcam.New(otherRig, 1).Photo(m), Options{}); !IsNoCapture(err) && (err != nil || res.Same || !strings.Contains(strings.Join(res.Warnings, " "), "not the one of this bench.yaml")) {
		t.Errorf("the photo of another camera of the same size: %v, %+v", err, res)
	}
	black := image.NewRGBA(image.Rect(0, 0, c.Rig.PhotoWidth, c.Rig.PhotoHeight))
	draw.Draw(black, black.Bounds(), image.Black, image.Point{}, draw.Src)
	for _, tt := range []struct {
		name, says string
		photo      image.Image
	}{
		{"glare", "light falls", c.Take(m, simcam.Shot{Glare: []simcam.Patch{{X: x, Y: y, Radius: 60, Level: 0.25}}})},
		{"bumped camera", "camera moved by about 10 photo px", c.Take(m, simcam.Shot{MoveX: 9, MoveY: 4, Still: true})},
		{"bumped far", "camera moved", c.Take(m, simcam.Shot{MoveX: -18, MoveY: 12})},
		{"long exposure", "", c.Take(m, simcam.Shot{Exposure: 2})},
		{"short exposure", "bright", c.Take(m, simcam.Shot{Exposure: 0.5})},
		{"lens covered", "dark", black},
		{"another camera", "another camera", image.NewRGBA(image.Rect(0, 0, 1280, 720))},
		{"a camera that stands nearer", "another camera's bench.yaml", nearer.Photo(white)},
		{"a hand", "stands before", c.Take(m, simcam.Shot{Hand: []simcam.Patch{{X: ex, Y: ey, Radius: 130, Level: 0.02}}})},
	} {
		res, err := o.Compare(m, tt.photo, Options{})
		switch {
		case err == nil && res.Same:
			t.Errorf("%s: same", tt.name)
		case err == nil:
			t.Errorf("%s: differs, with %+v", tt.name, res.Regions)
		case !IsNoCapture(err) || !strings.Contains(err.Error(), tt.says):
			t.Errorf("%s: %v, want %q", tt.name, err, tt.says)
		default:
			t.Logf("%s: %v", tt.name, err)
		}
	}
}

// TestBumpIsAbsorbed moves the rig by a pixel more than it wanders by itself.
func TestBumpIsAbsorbed(t *testing.T) {
	c, o := shared()
	for i, m := range screens(t)[:6] {
		s := simcam.Shot{MoveX: []float64{1, -1, 0, 0, 0.7, -0.7}[i], MoveY: []float64{0, 0, 1, -1, 0.7, 0.7}[i]}
		res, err := o.Compare(m, c.Take(m, s), Options{})
		if err != nil || !res.Same {
			t.Errorf("screen %d moved by %v, %v: %v, %+v", i, s.MoveX, s.MoveY, err, res)
			continue
		}
		u, v := c.Truth(160, 120)
		q := o.Geometry.ToPhoto(pt(160, 120))
		if d := math.Hypot(q.X+res.Move[0]-u, q.Y+res.Move[1]-v); d > 0.25 {
			t.Errorf("screen %d: registered %.2f px beside the truth", i, d)
		}
	}
}

func TestCausesOnPhotos(t *testing.T) {
	c, o := shared()
	want := map[string]string{"button moved 2 px": "moved", "missing icon": "missing", "missing line": "missing"}
	for _, f := range faults {
		cause, ok := want[f.name]
		if !ok {
			continue
		}
		right := 0
		for i := range 5 {
			r := rand.New(rand.NewPCG(uint64(i), 3))
			g, s := f.make(r, clone(screens(t)[i*5]))
			res, err := o.Compare(g, c.Photo(s), Options{})
			if err != nil || res.Same {
				t.Errorf("%s %d: not found, %v", f.name, i, err)
				continue
			}
			if res.Causes[0].Cause == cause {
				right++
			}
		}
		if right < 3 {
			t.Errorf("%s: %d of 5 are called %s", f.name, right, cause)
		}
	}
}

func TestIgnoredAreasDoNotCount(t *testing.T) {
	c, o := shared()
	m := screens(t)[3]
	s := clone(m)
	fillRect(s, image.Rect(40, 40, 90, 60), color.RGBA{255, 0, 0, 255})
	p := c.Photo(s)
	if res, err := o.Compare(m, p, Options{}); err != nil || res.Same {
		t.Errorf("a red box passes: %v", err)
	}
	if res, err := o.Compare(m, p, Options{Ignore: []image.Rectangle{image.Rect(34, 34, 96, 66)}}); err != nil || !res.Same {
		t.Errorf("an ignored box counts: %v %+v", err, res)
	}
}

func TestLamps(t *testing.T) {
	c, o := shared()
	m := screens(t)[0]
	for name, col := range map[string]color.RGBA{"red": {200, 0, 0, 255}, "green": {0, 180, 10, 255}, "blue": {0, 20, 200, 255}, "white": {180, 180, 180, 255}, "amber": {220, 75, 0, 255}} {
		lamp := simcam.Lamp{X: 100, Y: 200, Radius: 9, Colour: col}
		st, err := o.Lamp(c.Take(m, simcam.Shot{Lamps: []simcam.Lamp{lamp}}), Lamp{X: 100, Y: 200, Radius: 8}, [2]float64{})
		if err != nil || !st.On || st.Colour != name {
			t.Errorf("a %s lamp: %+v, %v", name, st, err)
		}
	}
	if st, err := o.Lamp(c.Photo(m), Lamp{X: 100, Y: 200, Radius: 8}, [2]float64{}); err != nil || st.On {
		t.Errorf("a dark lamp: %+v, %v", st, err)
	}
	if _, err := o.Lamp(c.Photo(m), Lamp{X: 2, Y: 2, Radius: 8}, [2]float64{}); err == nil {
		t.Error("a lamp off the photo: no error")
	}
}

func TestSweep(t *testing.T) {
	c, o := shared()
	var s []Step
	for v := 0; v <= 255; v += 51 {
		m := plain(320, 240, color.Gray{uint8(v)})
		l, err := o.Luminance(c.Photo(m))
		if err != nil {
			t.Fatal(err)
		}
		s = append(s, Step{float64(v), l})
		if want := math.Pow(float64(v)/255, c.Rig.Gamma); math.Abs(l-want) > 0.05 {
			t.Errorf("grey %d gives %.3f of white, want %.3f", v, l, want)
		}
	}
	if missed := CheckSweep(s, Limits{Rises: true, First: [2]float64{-0.02, 0.02}, Last: [2]float64{0.9, 1.1}, Golden: s}); missed != nil {
		t.Error(missed)
	}
	bad := append([]Step(nil), s...)
	bad[3].Light = bad[1].Light
	if missed := CheckSweep(bad, Limits{Rises: true, Golden: s}); len(missed) != 2 {
		t.Errorf("a dip is told as %q", missed)
	}
}

func TestAdviceNamesFaults(t *testing.T) {
	t.Parallel()
	r := glassRig(2.3, simcam.Poor, 8, 3)
	r.Width, r.Height, r.PhotoWidth, r.PhotoHeight, r.Focal = r.Width/2, r.Height/2, r.PhotoWidth/2, r.PhotoHeight/2, r.Focal/2 // a quarter of the work
	c := simcam.New(r, 1)
	_, rep := bench(t, c)
	text := strings.Join(rep.Advice(), "\n")
	t.Log(text)
	for _, want := range []string{"photo px a panel px", "bands", "reflection"} {
		if !strings.Contains(text, want) {
			t.Errorf("nothing is said of %q", want)
		}
	}
	if math.Abs(rep.Period-r.Period) > 3 {
		t.Errorf("bands every %.1f rows, want %.1f", rep.Period, r.Period)
	}
}

// BenchmarkCompare is decoded photo to verdict, 1920x1080 photo and 320x240 panel, against a dump and against an earlier photo.
func BenchmarkCompare(b *testing.B) {
	c, o := wide()
	m := screens(b)[5]
	earlier, err := o.Compare(m, c.Photo(m), Options{})
	if err != nil {
		b.Fatal(err)
	}
	p := c.Photo(m)
	for name, golden := range map[string]image.Image{"dump": m, "photo": earlier.Picture} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := o.Compare(golden, p, Options{GoldenIsPhoto: name == "photo"}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
