package photo

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// TestWarmUpIsMeasured: a panel that settles with a time constant of ten minutes is within 1 % in five minutes once
// 0.2 exp(-t/10) (1 - exp(-0.5)) is below 0.01: after about 21 minutes, less the four that aligning took.
func TestWarmUpIsMeasured(t *testing.T) {
	settling := Report{Minutes: []float64{0, 2, 4}}
	for _, m := range settling.Minutes {
		settling.Whites[1] = append(settling.Whites[1], 0.5*(1-0.2*math.Exp(-m/10)))
	}
	settling.Warming = settling.Whites[1][2]/settling.Whites[1][0] - 1
	var n int
	text := settling.warmUp()
	if _, err := fmt.Sscanf(text[strings.Index(text, "warm up for"):], "warm up for %d minutes", &n); err != nil || n < 15 || n > 25 {
		t.Errorf("a panel that settles: %q", text)
	}
	for name, r := range map[string]Report{
		"drift":          {Warming: 0.05, Drift: 0.02, Whites: [3][]float64{1: {0.5, 0.51, 0.525}}},
		"there and back": {Warming: 0.03, Whites: [3][]float64{1: {0.5, 0.56, 0.515}}},
		"steady":         {Warming: 0.001, Whites: [3][]float64{1: {0.5, 0.5, 0.5005}}},
	} {
		if text := r.warmUp(); text != "" {
			t.Errorf("%s: %q", name, text)
		}
	}
	r := Report{Warming: 0.05, Whites: [3][]float64{1: {0.5, 0.51, 0.525}}}
	if text := r.warmUp(); !strings.Contains(text, "30 minutes") {
		t.Errorf("photos of unknown time: %q", text)
	}
}
