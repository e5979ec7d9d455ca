package photo

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// madeUp are optics with random kernels and overtones, for a small panel seen straight on.
func madeUp(r *rand.Rand, w, h int) *Optics {
	o := &Optics{Geometry: rectify.Geometry{Panel: [2]int{w, h}, Photo: [2]int{3 * w, 3 * h}}}
	o.Geometry.Plane = rectify.Homography{2.3 / 120, 0.02 / 120, -45.0 / 120, 0.01 / 120, 2.2 / 120, -32.0 / 120, 0, 0, 1}
	for c := range 3 {
		o.Kernel[c] = make([]float32, features)
		for i := range o.Kernel[c] {
			o.Kernel[c][i] = float32(r.NormFloat64())
		}
		for i := range o.Tones[c] {
			o.Tones[c][i] = float32(i) / 255
		}
	}
	for _, q := range [][2]int{{4, 0}, {2, -1}, {0, 3}} {
		t := Overtone{M: q[0], N: q[1]}
		for c := range 3 {
			for k := range 2 {
				for i := range overtoneTerms {
					t.Of[c][k][i] = float32(r.NormFloat64())
				}
			}
		}
		o.Overtones = append(o.Overtones, t)
	}
	o.prepare()
	return o
}

// TestRowsAreFeaturesTimesKernel holds the fast prediction against its plain form.
func TestRowsAreFeaturesTimesKernel(t *testing.T) {
	const w, h = 40, 30
	r := rand.New(rand.NewPCG(1, 2))
	o := madeUp(r, w, h)
	s := o.screenOf(card(w, h, 3, false))
	cu, su, cv, sv := turn(0.3, -0.2)
	row := func() []float32 { return make([]float32, w) }
	q := o.predictor(w, rectify.Point{X: 0.3, Y: -0.2})
	for y := range h {
		ws := make([][waves]float32, w)
		for x := range ws {
			o.waveAt(y*w+x, cu, su, cv, sv, &ws[x])
		}
		q.turnTo(y)
		for c := range 3 {
			to := wanted{row(), row(), row()}
			q.row(s, c, y, true, to)
			f := make([]float32, features)
			for x := range w {
				o.feature(s, c, x, y, &ws[x], f)
				var want float64
				for i, v := range f {
					want += float64(v * o.Kernel[c][i])
				}
				at := s.at(x, y)
				l, l1, l2 := float64(s.light[c][at]), float64(s.light[(c+1)%3][at]), float64(s.light[(c+2)%3][at])
				g := [overtoneTerms]float64{l, l * float64(o.x[x]), l * float64(o.y[y]), l1, l2}
				for _, q := range o.Overtones {
					sn, cs := math.Sincos(math.Pi * (float64(q.M)*(float64(o.sampler.U[y*w+x])+0.3) + float64(q.N)*(float64(o.sampler.V[y*w+x])-0.2)))
					for i, e := range g {
						want += e * (float64(q.Of[c][0][i])*cs + float64(q.Of[c][1][i])*sn)
					}
				}
				if got := float64(to.light[x]); math.Abs(got-want) > 2e-3 {
					t.Fatalf("channel %d at %d,%d: %v, want %v", c, x, y, got, want)
				}
			}
		}
	}
}

// TestSlopesAreDifferences holds du and dv against what really changes as the photo moves: the waves' phases. What comes
// of the picture's own gradient is taken off before.
func TestSlopesAreDifferences(t *testing.T) {
	const w, h, step = 40, 30, 0.005
	o := madeUp(rand.New(rand.NewPCG(1, 2)), w, h)
	s := o.screenOf(card(w, h, 3, false))
	at := func(x, y float64) (light, du, dv []float32) {
		q := o.predictor(w, rectify.Point{X: x, Y: y})
		q.turnTo(7)
		to := wanted{make([]float32, w), make([]float32, w), make([]float32, w)}
		q.row(s, 1, 7, true, to)
		return to.light, to.du, to.dv
	}
	_, du, dv := at(0.3, -0.2)
	left, _, _ := at(0.3-step, -0.2)
	right, _, _ := at(0.3+step, -0.2)
	above, _, _ := at(0.3, -0.2-step)
	below, _, _ := at(0.3, -0.2+step)
	for x := range w {
		u, v := (right[x]-left[x])/(2*step), (below[x]-above[x])/(2*step)
		if math.Abs(float64(u-du[x])) > 0.15 || math.Abs(float64(v-dv[x])) > 0.15 {
			t.Fatalf("at %d: %v, %v, want %v, %v", x, du[x], dv[x], u, v)
		}
	}
}

// TestTailIsConsistent: limit is the inverse of chance, and a smaller chance has a higher limit.
func TestTailIsConsistent(t *testing.T) {
	q := tail{From: 3.5, Scale: 1.3, Rate: 3, Photos: 6}
	last := 0.0
	for _, p := range []float64{0.5, 0.05, 0.01, 1e-4, 1e-6} {
		l := q.limit(p)
		if l <= last || math.Abs(q.chance(l)/p-1) > 1e-6 {
			t.Errorf("chance %g: limit %g after %g, and back %g", p, l, last, q.chance(l))
		}
		last = l
	}
}

// TestAllowedErrorsDoNotCount: near content what was learnt to be off is taken off, on even ground nothing is.
func TestAllowedErrorsDoNotCount(t *testing.T) {
	for _, q := range [][3]float32{{5, 3, 2}, {-5, 3, -2}, {2, 3, 0}, {-2, 3, 0}, {4, 0, 4}} {
		if got := beyond(q[0], q[1]); got != q[2] {
			t.Errorf("%v beyond %v: %v, want %v", q[0], q[1], got, q[2])
		}
	}
}

// TestLevelGoesOnAlongSlopes: a plane that rises evenly stays as it is, up to its ends, and noise on it becomes less.
func TestLevelGoesOnAlongSlopes(t *testing.T) {
	const w, h = 60, 40
	r := rand.New(rand.NewPCG(5, 5))
	plane, noisy := make([]float32, w*h), make([]float32, w*h)
	for k := range plane {
		plane[k] = 0.2 + 0.004*float32(k%w) - 0.003*float32(k/w)
		noisy[k] = plane[k] + 0.01*float32(r.NormFloat64())
	}
	for k, v := range level(plane, w, h, 3) {
		if d := math.Abs(float64(v - plane[k])); d > 1e-4 {
			t.Fatalf("at %d,%d a plane is %v off", k%w, k/w, d)
		}
	}
	var sum float64
	for k, v := range level(noisy, w, h, 3) {
		sum += float64(v-plane[k]) * float64(v-plane[k])
	}
	if rms := math.Sqrt(sum / (w * h)); rms > 0.002 {
		t.Errorf("noise of 0.01 is still %v", rms)
	}
	if d := math.Abs(float64(smooth(plane, w, h, 3)[(h-1)*w+w/2] - plane[(h-1)*w+w/2])); d < 0.005 {
		t.Errorf("a plain mean is off by %v only: the test shows nothing", d)
	}
}
