package wander

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/demo/firmware/faults"
)

// wanderOn wanders on a twin with the demo's walks as vocabulary.
func wanderOn(t testing.TB, wasm []byte, o Options) *Result {
	t.Helper()
	d, p := open(t, wasm)
	plan, err := suites.Prepare("../demo/bench.yaml", nil)
	if err != nil {
		t.Fatal(err)
	}
	o.Feeds, o.Texts = suites.Words(plan.Walks)
	o.Names = "screen *"
	if o.Walks == nil && o.Probe {
		o.Walks = nil
	}
	r, err := Wander(t.Context(), d, p, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func open(t testing.TB, wasm []byte) (*bench.Device, *suites.Player) {
	t.Helper()
	var p *suites.Player
	d, err := bench.OnLink("twin:").Open(context.Background(), bench.Options{BuiltIn: wasm, Log: func(l link.LogLine) {
		if p != nil {
			p.Heard(l)
		}
	}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.Close() })
	p = suites.Play(d, nil)
	return d, p
}

func TestTry(t *testing.T) {
	b, err := faults.New("../demo/firmware", t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"", "stale-row", "leak", "crash", "endless", "road"} {
		wasm, err := b.Sound()
		if name != "" {
			f, _ := faults.Find(name)
			wasm, err = b.Plant(f)
		}
		if err != nil {
			t.Fatal(err)
		}
		start := time.Now()
		stop := 1
		r := wanderOn(t, wasm, Options{Seed: 1, Steps: 3000, Findings: stop})
		fmt.Printf("== %q: %d screens, %d steps, %d replayed, %v\n", name, len(r.Map.Screens), r.Steps, r.Replayed, time.Since(start))
		for _, s := range r.Map.Screens {
			fmt.Printf("%s=%s(%d,%d) ", s.Screen, s.Name, s.Seen, s.Pictures)
		}
		fmt.Println()
		for _, f := range r.Findings {
			fmt.Printf("  %s on %s after %d, %d inputs: %s\n%s", f.Kind, f.Screen, f.Path, f.Steps, f.Says, f.Walk)
		}
	}
	_ = os.Args
	_ = filepath.Base
}
