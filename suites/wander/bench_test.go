package wander

import (
	"testing"
	"time"

	"github.com/fascia-bench/fascia/suites/demo"
)

// BenchmarkWander tells how many screens a second are judged on the demo's twin, and how long it takes until
// each of its fourteen screens was seen.
func BenchmarkWander(b *testing.B) {
	wasm, err := demo.Twin()
	if err != nil {
		b.Fatal(err)
	}
	steps, all := 0, 0.0
	for n := range b.N {
		began, seen := time.Now(), 0
		r := wanderOn(b, wasm, Options{Seed: uint64(n + 1), Steps: 600, Tell: func(string) { seen++; all = time.Since(began).Seconds() }})
		steps += r.Steps
	}
	b.ReportMetric(float64(steps)/b.Elapsed().Seconds(), "screens/s")
	b.ReportMetric(all, "s-to-last-screen")
}
