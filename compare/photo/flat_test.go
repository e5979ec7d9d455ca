package photo

import (
	"math"
	"testing"
)

// TestExposeBlack: that black photos were exposed 4 % short is told by a reflection, which cards show as well; a panel whose black is even
// tells nothing, since each photo's gain and offset are its own.
func TestExposeBlack(t *testing.T) {
	const w, h, short = 64, 48, 0.04
	for _, tt := range []struct{ reflection, want float64 }{{0.2, short}, {0, 0}} {
		o, v := &Optics{}, &sight{}
		v.room(w * h)
		for c := range 3 {
			o.Dark[c], o.Flat[c] = make([]float32, w*h), make([]float32, w*h)
			for k := range w * h {
				x, y := float64(k%w-20), float64(k/w-30)
				black := 0.02 + tt.reflection*math.Exp(-(x*x+y*y)/200)
				dark, light := black/(1+short), float64(k%7)/6
				o.Dark[c][k], o.Flat[c][k] = float32(dark), float32(0.8-dark) // white's photo is exposed as the card's
				v.want[c][k] = float32(light + dark/(0.8-dark))
				v.left[c][k] = float32((black+light*(0.8-black))/(0.8-dark)) - v.want[c][k]
				v.noise[c][k] = 1e-4
			}
		}
		was := o.Dark[1][30*w+20]
		o.exposeBlack([]*sight{v})
		if more := float64(o.Dark[1][30*w+20]/was) - 1; math.Abs(more-tt.want) > 0.001 {
			t.Errorf("with a reflection of %v black is %.2f %% lighter than in its photos, want %.0f", tt.reflection, 100*more, 100*tt.want)
		}
		for k := range w * h {
			if sum := float64(o.Dark[1][k] + o.Flat[1][k]); math.Abs(sum-0.8) > 1e-4 {
				t.Fatalf("with a reflection of %v white is %v, was 0.8", tt.reflection, sum)
			}
			if left := math.Abs(float64(v.left[1][k])); tt.reflection > 0 && left > 0.0005 {
				t.Fatalf("%.5f is left over at %d,%d", left, k%w, k/w)
			}
		}
	}
}
