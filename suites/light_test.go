package suites_test

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/compare/photo"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/record"
)

// TestSweepByFramebuffer sweeps a feed of the twin, whose picture hardly changes in light.
func TestSweepByFramebuffer(t *testing.T) {
	dir := t.TempDir()
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	wasm, err := demo.Twin()
	if err != nil {
		t.Fatal(err)
	}
	b, err := suites.OpenBench(t.Context(), filepath.Join(dir, demo.BenchFile), wasm)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if err := b.Walk(t.Context(), "sweeps", "start.yaml", nil); err != nil {
		t.Fatal(err)
	}
	s := suites.Sweep{Name: "battery", Feed: "battery", Over: []float64{5, 50, 100}, Still: suites.Settle{Still: 50 * time.Millisecond, Latest: time.Second}}
	x, err := b.Sweep(t.Context(), s)
	if err != nil || x.Result != record.Met || x.Sweep == nil || x.Sweep.By != "framebuffer" || len(x.Sweep.Points) != 3 {
		t.Fatalf("%+v, %v", x, err)
	}
	for _, p := range x.Sweep.Points {
		if p[1] <= 0 || p[1] >= 1 {
			t.Errorf("the light at %g is %g of a white panel's", p[0], p[1])
		}
	}
	s.Check.Golden = []photo.Step{{At: 5, Light: 0.99}, {At: 100, Light: 0.99}}
	if x, err = b.Sweep(t.Context(), s); err != nil || x.Result != record.Missed || !strings.Contains(x.Why, "curve: {5: ") {
		t.Errorf("off the curve: %+v, %v", x, err)
	}
	if _, err := b.Glass(t.Context(), 0); err == nil {
		t.Error("glass without a camera")
	}
}
