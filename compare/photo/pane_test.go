package photo

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// TestLawHoldsItsChance draws the largest of blocks from Gumbel's law, fits three photos' worth of them, and counts how often a
// sound photo's largest lies beyond the limit of 1 in 100; then again for benches on which a sixth of all blocks held faults.
func TestLawHoldsItsChance(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	draw := func() float64 { return 3 - 0.3*math.Log(-math.Log(r.Float64())) }
	const benches, photos, rate = 300, 20, 0.01
	for _, faulty := range []bool{false, true} {
		beyond := 0
		for range benches {
			var v []float64
			for i := range 3 * blocks {
				q := draw()
				if faulty && i%6 == 0 {
					q += 20
				}
				v = append(v, q)
			}
			l := fitLaw(v)
			limit := l.limit(rate, 1)
			if c := l.chance(limit, 1); math.Abs(c-rate) > 1e-9 {
				t.Fatalf("at the limit of %v the chance is %v", rate, c)
			}
			if limit > 15 {
				t.Fatalf("a limit of %v, where 99 of 100 sound photos lie below %v", limit, 3-0.3*math.Log(-math.Log(1-rate/blocks)))
			}
			for range photos {
				most := 0.0
				for range blocks {
					most = max(most, draw())
				}
				if most > limit {
					beyond++
				}
			}
		}
		_, many := within(benches*photos, rate, 0.99)
		t.Logf("faulty %v: %d of %d sound photos lie beyond the limit of 1 in 100", faulty, beyond, benches*photos)
		if beyond > many {
			t.Errorf("that is more than the %d of the binomial law", many)
		}
		if !faulty && beyond == 0 {
			t.Error("it is no limit")
		}
	}
}

// TestCalmTakesWavesAlone: waves of the mosaic's lengths go, a dark pixel and a dark row stay.
func TestCalmTakesWavesAlone(t *testing.T) {
	_, o := shared()
	o.prepare()
	const w, h = 320, 240
	v := &sight{Move: rectify.Point{X: 0.2, Y: -0.1}}
	v.room(w * h)
	for c := range 3 {
		for k := range w * h {
			a, b := float64(o.sampler.U[k])+0.2, float64(o.sampler.V[k])-0.1
			v.left[c][k] = float32(0.05*math.Cos(math.Pi*a+1) + 0.03*math.Sin(math.Pi*(2*a-b)))
			v.noise[c][k] = 1e-4
		}
		for x := range w {
			v.left[c][100*w+x] -= 0.6
		}
		v.left[c][50*w+70] -= 0.4
	}
	got := o.calm(v)
	for _, p := range []struct {
		x, y int
		want float64
	}{{200, 100, -0.6}, {70, 50, -0.4}, {70, 53, 0}, {150, 170, 0}, {31, 209, 0}} {
		if g := float64(got[1][p.y*w+p.x]); math.Abs(g-p.want) > 0.03 {
			t.Errorf("at %d,%d %.3f is left, want %.1f", p.x, p.y, g, p.want)
		}
	}
}

// TestLinesThatCross are told one by one, with what stands beside them.
func TestLinesThatCross(t *testing.T) {
	const w, h = 60, 50
	mask := make([]bool, w*h)
	for x := range w {
		mask[20*w+x], mask[21*w+x] = true, true
	}
	for y := range h {
		mask[y*w+7] = y < 30 || y > 33
	}
	mask[40*w+50] = true
	rest := append([]bool(nil), mask...)
	rows := across(mask, rest, line{w, 1}, line{h, w})
	columns := across(mask, rest, line{h, w}, line{w, 1})
	if len(rows) != 1 || rows[0] != [4]int{0, w, 20, 22} {
		t.Errorf("rows %v", rows)
	}
	if len(columns) != 1 || columns[0] != [4]int{0, h, 7, 8} {
		t.Errorf("columns %v", columns)
	}
	if n := count(rest); n != 1 || !rest[40*w+50] {
		t.Errorf("%d pixels are left beside the lines", n)
	}
}
