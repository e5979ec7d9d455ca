package simcam

import (
	"math"
	"testing"
)

// TestProfile holds what a blur leaves of a stripe against a sum over its points, weighed by Gauss's law.
func TestProfile(t *testing.T) {
	const gap, least, most = 0.15, 0.2, 2.1
	p := newProfile(gap, least, most)
	stripe := func(x float64) float64 {
		return max(0, min(1, x/gap, (1-x)/gap))
	}
	for _, sigma := range []float64{least, 0.7, most} {
		for _, at := range []float64{10, 10.2, 10.5, 11.93} {
			var out [widest]float32
			first, n := p.weigh(float32(at), float32(sigma), &out)
			for i := 6; i <= 16; i++ {
				var want float64
				const step = 1. / 500
				for x := step / 2; x < 1; x += step {
					z := (float64(i) + x - at) / sigma
					want += stripe(x) * math.Exp(-z*z/2) * step / (sigma * math.Sqrt(2*math.Pi))
				}
				var got float64
				if i >= first && i < first+n {
					got = float64(out[i-first])
				}
				if math.Abs(got-want) > 0.001 {
					t.Errorf("a blur of %v around %v takes %.4f of stripe %d, want %.4f", sigma, at, got, i, want)
				}
			}
		}
	}
}
