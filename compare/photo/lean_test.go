package photo

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
	"github.com/fascia-bench/fascia/capture/rectify"
)

// TestACameraThatHasTurned: a knock turns a camera as easily as it moves one. By little, that is made good and told; by more than
// corners may move there is no verdict; and what differs is still found.
func TestACameraThatHasTurned(t *testing.T) {
	c, o := shared()
	all := screens(t)
	x, y := o.pivot.u-float64(c.Rig.PhotoWidth-1)/2, o.pivot.v-float64(c.Rig.PhotoHeight-1)/2
	for _, turn := range []float64{-0.0008, 0.0015, 0.003, 0.006, -0.02} {
		corners := math.Abs(turn) * o.pivot.unit
		for i := 3; i < len(all); i += 17 {
			// Turned about the panel's middle.
			shot := simcam.Shot{Turn: turn, MoveX: turn * y, MoveY: -turn * x}
			res, err := o.Compare(all[i], c.Take(all[i], shot), Options{})
			switch far := corners > usualMove; {
			case far && (!IsNoCapture(err) || !strings.Contains(err.Error(), "camera moved")):
				t.Errorf("turned by %.1f px at its corners, screen %d: %v, %+v", corners, i, err, res)
			case !far && (err != nil || !res.Same):
				t.Errorf("turned by %.1f px at its corners, screen %d: %v, %+v", corners, i, err, res)
			case !far && corners > 0.6 && !strings.Contains(strings.Join(res.Warnings, " "), "the camera has turned"):
				t.Errorf("turned by %.1f px at its corners, screen %d: nothing of it is told, only %q", corners, i, res.Warnings)
			}
		}
	}
	r := rand.New(rand.NewPCG(5, 5))
	for _, f := range faults[:2] {
		g, s := f.make(r, clone(all[20]))
		if res, err := o.Compare(g, c.Take(s, simcam.Shot{Turn: 0.002}), Options{}); err != nil || res.Same {
			t.Errorf("%s, before a camera that has turned: %v, %+v", f.name, err, res)
		}
	}
}

// TestAnotherScreenIsNoMovedCamera: what fits nowhere is not where it happens to fit best.
func TestAnotherScreenIsNoMovedCamera(t *testing.T) {
	c, o := shared()
	all := screens(t)
	for _, i := range []int{0, 16, 32} {
		shown := all[(i*7+5+i/7)%len(all)]
		if res, err := o.Compare(all[i], c.Photo(shown), Options{}); err != nil || res.Same {
			t.Errorf("another screen than %d: %v, %+v", i, err, res)
		}
	}
}

// TestAMovedPhotoFits: what was learnt of photos within half a photo pixel holds further on. With moiré in the flat field the strain
// was 2.0 at 0.8 px.
func TestAMovedPhotoFits(t *testing.T) {
	c, o := shared()
	m := screens(t)[10]
	s := o.screenOf(m)
	for _, move := range []float64{0, 0.4, 0.8, 1.2, 2} {
		v, ok := o.look(rectify.NewPhoto(c.Take(m, simcam.Shot{MoveX: move, MoveY: -move / 2, Still: true})), s, rectify.Point{})
		if q := v.strain(); !ok || q > 1.2 {
			t.Errorf("moved by %.1f, the strain is %.2f", move, q)
		}
	}
}

func TestAFlatFieldHoldsNoWaves(t *testing.T) {
	_, o := shared()
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	in, want := make([]float32, w*h), make([]float32, w*h)
	for k := range in {
		x, y := o.x[k%w], o.y[k/w]
		want[k] = 0.05*x*x - 0.03*x*y
		u, v := float64(o.sampler.U[k]), float64(o.sampler.V[k])
		in[k] = want[k] + (0.03+0.01*x)*float32(math.Cos(math.Pi*u)) + 0.02*y*float32(math.Sin(math.Pi*(u+v)))
	}
	got := o.withoutWaves(in)
	var before, after float64
	for k := range in {
		before, after = before+math.Pow(float64(in[k]-want[k]), 2), after+math.Pow(float64(got[k]-want[k]), 2)
	}
	if share := math.Sqrt(after / before); share > 0.05 {
		t.Errorf("%.0f %% of the waves are left", 100*share)
	}
}

// TestReflectionsThatStayBehind holds the gradients against a reflection that is sampled where a photo has moved to.
func TestReflectionsThatStayBehind(t *testing.T) {
	_, o := shared()
	q := o.leaning(lean{})
	w := o.Geometry.Panel[0]
	light := func(u, v float32) float32 {
		dx, dy := float64(u)-o.pivot.u-30, float64(v)-o.pivot.v+20
		return float32(0.05 * math.Exp(-(dx*dx+dy*dy)/(2*60*60)))
	}
	for c := range q.Dark {
		q.Dark[c] = make([]float32, len(o.Dark[c]))
		for k := range q.Dark[c] {
			q.Dark[c][k] = light(o.sampler.U[k], o.sampler.V[k])
		}
	}
	q.setBehind()
	move := rectify.Point{X: 1.5, Y: -1}
	var off, all float64
	for k := range q.Dark[1] {
		if x, y := k%w, k/w; x < 1 || y < 1 || x >= w-1 || y >= o.Geometry.Panel[1]-1 {
			continue
		}
		want := float64((light(o.sampler.U[k]+float32(move.X), o.sampler.V[k]+float32(move.Y)) - q.Dark[1][k]) / q.Flat[1][k])
		got := float64(q.behind[1][0][k])*move.X + float64(q.behind[1][1][k])*move.Y
		off, all = off+(got-want)*(got-want), all+want*want
	}
	if share := math.Sqrt(off / all); share > 0.05 {
		t.Errorf("off by %.0f %%", 100*share)
	}
}
