package photo

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// TestBandsAreNoMoire: waves whose phases have nothing to do with where the photos stand are a backlight's; waves that turn
// as the rig moves, or stand still, are moiré.
func TestBandsAreNoMoire(t *testing.T) {
	const w, h, period = 60, 200, 45.0
	bands := func(row, phase float64) float64 { return 0.006 * math.Cos(2*math.Pi*row/period+phase) }
	slope := func(row, phase float64) float64 { return 0.006 * math.Cos(phase) * (row - 300) / 100 }
	for name, q := range map[string]struct {
		turn func(free float64, move rectify.Point) float64
		wave func(row, phase float64) float64
		want bool
	}{
		"bands":                {func(free float64, _ rectify.Point) float64 { return free }, bands, true},
		"moiré":                {func(_ float64, m rectify.Point) float64 { return 0.4 - 2*math.Pi*m.Y + math.Pi*m.X }, bands, false},
		"moiré that stays":     {func(float64, rectify.Point) float64 { return 0.4 }, bands, false},
		"light that falls off": {func(free float64, _ rectify.Point) float64 { return free }, slope, false},
	} {
		r := rand.New(rand.NewPCG(5, 5))
		o := madeUp(r, w, h)
		o.Geometry.Photo[1] = 600
		for k := range o.sampler.V {
			o.sampler.V[k] = float32(60 + 2.2*float64(k/w)) // photo rows, as close as a lens has them
		}
		var views []*sight
		for range cards {
			v := &sight{Move: rectify.Point{X: r.Float64() - 0.5, Y: r.Float64() - 0.5}}
			v.room(w * h)
			phase := q.turn(2*math.Pi*r.Float64(), v.Move)
			for k := range w * h {
				v.want[1][k], v.noise[1][k] = 1, 1e-4
				at := float64(o.sampler.V[k]) + v.Move.Y
				v.left[1][k] = float32(q.wave(at, phase) + 0.01*r.NormFloat64())
			}
			views = append(views, v)
		}
		o.findRipple(views)
		if got := o.Period > 0; got != q.want || got && math.Abs(o.Period-period) > 2 {
			t.Errorf("%s: period %v", name, o.Period)
		}
	}
}
