package suites_test

import (
	"testing"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/demo"
)

// A steady step notes at first, and then expects the same: of a gauge or of the picture.
func TestSteady(t *testing.T) {
	tests := []struct {
		steps  string
		missed int
		why    string
	}{
		{"  - steady: {gauge: visits}\n  - settle\n  - steady: {gauge: visits}\n", 0, "no screen was opened between"},
		{"  - steady: {gauge: visits}\n  - tap: {on: chart}\n  - steady: {gauge: visits}\n", 1, "one was"},
		{"  - steady: {screen: home}\n  - tap: {on: chart}\n  - settle\n  - key: escape\n  - steady: {screen: home}\n", 0, "it is home again"},
		{"  - steady: {screen: home}\n  - feed: {temperature: 3}\n  - steady: {screen: home}\n", 1, "the temperature is another"},
		{"  - steady: {screen: home}\n  - feed: {temperature: 3}\n  - steady: {screen: cold}\n", 0, "another name is noted anew"},
	}
	wasm, err := demo.Twin()
	if err != nil {
		t.Fatal(err)
	}
	d, err := bench.OnLink("twin:").Open(t.Context(), bench.Options{BuiltIn: wasm})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	for _, tt := range tests {
		steps, err := suites.ReadSteps("test", "  - clock: 2031-05-04T09:30:00\n  - settle\n"+tt.steps)
		if err != nil {
			t.Fatal(err)
		}
		p := suites.Play(d, nil)
		if err := p.Begin(t.Context()); err != nil {
			t.Fatal(err)
		}
		for _, s := range steps {
			if err := p.Take(t.Context(), s); err != nil {
				t.Fatal(err)
			}
		}
		if len(p.Missed) != tt.missed {
			t.Errorf("%s: missed %v: %s", tt.steps, p.Missed, tt.why)
		}
	}
	p := suites.Play(d, nil)
	steps, err := suites.ReadSteps("test", "  - steady: {gauge: fuel}\n")
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Take(t.Context(), steps[0]); err == nil {
		t.Error("a gauge that the device does not have is steady")
	}
}
