package wander

import (
	"context"
	"encoding/json"
	"os"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/demo/firmware/faults"
	"github.com/fascia-bench/fascia/suites/schema/schematest"
)

// budget is how many inputs a fault may take to be found, and what the sound device is given.
const budget = 3000

// long reports whether the campaign is walked whole.
func long() bool { return os.Getenv("FASCIA_LONG") != "" }

// wanderOn wanders on a twin with the demo's walks.
func wanderOn(t testing.TB, wasm []byte, o Options) *Result {
	t.Helper()
	d, p := open(t, wasm)
	plan, err := suites.Prepare("../demo/bench.yaml", nil)
	if err != nil {
		t.Fatal(err)
	}
	o.Feeds, o.Texts = suites.Words(plan.Walks)
	o.Walks = plan.Walks
	o.Names = "screen *"
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

// planted are the faults, what they come to light as, and the fewest inputs known to show them.
var planted = []struct {
	fault, kind string
	fewest      int
	why         string
	sample      uint64 // the seed of the sample
}{
	{"stale-row", "redraw", 3, "settings, language, back", 4},
	{"leak", "leak", 2, "chart and back, twice", 6},
	{"crash", "restart", 5, "sensors, add, and three times a wrong code", 3},
	{"endless", "unsettled", 2, "settings, about", 1},
	{"road", "road", 4, "settings; and after a reset chart, back, settings", 10},
}

func TestFindsPlantedFaults(t *testing.T) {
	b, err := faults.New("../demo/firmware", t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range planted {
		wasm, err := b.Plant(tt.fault)
		if err != nil {
			t.Fatal(err)
		}
		t.Run(tt.fault, func(t *testing.T) {
			t.Parallel()
			seeds := []uint64{tt.sample}
			if long() {
				seeds = []uint64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}
			}
			found, steps := 0, []int{}
			for _, seed := range seeds {
				r := wanderOn(t, wasm, Options{Seed: seed, Steps: budget, Findings: 1})
				if len(r.Findings) == 0 {
					t.Logf("seed %d: nothing in %d inputs", seed, r.Steps)
					continue
				}
				found++
				t.Logf("seed %d: %s after %d inputs, %d more to shrink %d to %d", seed, r.Findings[0].Kind, r.Steps, r.Replayed, r.Findings[0].Path, r.Findings[0].Steps)
				steps = append(steps, r.Steps)
				fd := r.Findings[0]
				if fd.Kind != tt.kind || fd.Walk == "" {
					t.Errorf("seed %d: found %s (%s), want %s and a walk that shows it", seed, fd.Kind, fd.Says, tt.kind)
					continue
				}
				if fd.Steps > 2*tt.fewest {
					t.Errorf("seed %d: the walk has %d inputs; %d are known to do (%s)\n%s", seed, fd.Steps, tt.fewest, tt.why, fd.Walk)
				}
				reproduce(t, wasm, fd)
			}
			t.Logf("found from %d of %d seeds, after %v inputs", found, len(seeds), steps)
			if found*10 < len(seeds)*9 {
				t.Errorf("%s: found from %d of %d seeds, want nine of ten", tt.fault, found, len(seeds))
			}
		})
	}
}

// reproduce walks a finding's walk on a fresh device.
func reproduce(t *testing.T, wasm []byte, f Finding) {
	t.Helper()
	_, text, _ := strings.Cut(f.Walk, "steps:\n")
	steps, err := suites.ReadSteps(f.Finding.Walk, text)
	if err != nil {
		t.Fatalf("the walk cannot be read: %v\n%s", err, f.Walk)
	}
	d, p := open(t, wasm)
	defer d.Close()
	if err := p.Begin(t.Context()); err != nil {
		t.Fatal(err)
	}
	for _, s := range steps {
		if err = p.Take(t.Context(), s); err != nil {
			break
		}
	}
	if died := err != nil && dead(err); died != (f.Kind == "restart") || !died && len(p.Missed) == 0 {
		t.Errorf("%s does not show on a fresh device: %v, missed %v\n%s", f.Kind, err, p.Missed, f.Walk)
	}
}

// A board cannot be brought back to a moment: paths are walked again from a reset, and faults found all the same.
func TestWithoutMoments(t *testing.T) {
	wasm, err := os.ReadFile("../demo/testdata/fernhouse-panic.wasm")
	if err != nil {
		t.Fatal(err)
	}
	d, p := open(t, wasm)
	plan, err := suites.Prepare("../demo/bench.yaml", nil)
	if err != nil {
		t.Fatal(err)
	}
	o := Options{Seed: 1, Steps: 120, Names: "screen *"}
	o.Feeds, o.Texts = suites.Words(plan.Walks)
	r, err := Wander(t.Context(), board{d}, p, o)
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Map.Screens) < 4 || len(r.Findings) == 0 || r.Findings[0].Kind != "restart" || r.Findings[0].Steps > 3 {
		t.Errorf("%d screens, findings %+v", len(r.Map.Screens), r.Findings)
	}
	fits(t, r)
}

// A board is a device that cannot be brought back.
type board struct{ *bench.Device }

func (board) Branch() (func() error, error) { return nil, nil }

// A taciturn device does not tell what it has: keys, values, touch targets.
type taciturn struct{ *bench.Device }

func (d taciturn) Hello() link.Hello {
	h := d.Device.Hello()
	h.Can &^= link.CanList
	return h
}

// A device that does not tell what can be touched is touched anywhere.
func TestTouchingAnywhere(t *testing.T) {
	wasm, err := demo.Twin()
	if err != nil {
		t.Fatal(err)
	}
	d, p := open(t, wasm)
	r, err := Wander(t.Context(), taciturn{d}, p, Options{Seed: 2, Steps: 200, Names: "screen *"})
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Map.Screens) < 5 || len(r.Findings) != 0 {
		t.Errorf("%d screens in %d inputs, findings %+v", len(r.Map.Screens), r.Steps, r.Findings)
	}
	fits(t, r)
}

// fits holds a map against its schema, and checks that it has the pictures that it names.
func fits(t *testing.T, r *Result) {
	t.Helper()
	s, err := schematest.Compile("map")
	if err != nil {
		t.Fatal(err)
	}
	written, err := json.Marshal(r.Map)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Check(written); err != nil {
		t.Error(err)
	}
	for _, sc := range r.Map.Screens {
		for _, file := range append([]string{sc.Picture}, sc.More...) {
			if r.Pictures[file] == nil {
				t.Errorf("the map names %s, and there is no such picture", file)
			}
		}
	}
}

func TestFindsNothingOnASoundDevice(t *testing.T) {
	wasm, err := demo.Twin()
	if err != nil {
		t.Fatal(err)
	}
	seeds, steps := []uint64{1}, 200
	if long() {
		seeds, steps = []uint64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, budget
	}
	for _, seed := range seeds {
		r := wanderOn(t, wasm, Options{Seed: seed, Steps: steps})
		for _, f := range r.Findings {
			t.Errorf("seed %d: %s: %s\n%s", seed, f.Kind, f.Says, f.Walk)
		}
		screens(t, seed, r)
	}
}

// screens checks that the map has every screen that the firmware has a name for.
func screens(t *testing.T, seed uint64, r *Result) {
	t.Helper()
	names := map[string]bool{}
	for _, s := range r.Map.Screens {
		names[s.Name] = true
	}
	for _, want := range []string{"", "season", "home", "panel", "sensors", "pair", "search", "name", "schedule", "chart", "alarm", "settings", "language", "about"} {
		if !names[want] {
			t.Errorf("seed %d: screen %q was not found in %d inputs", seed, want, r.Steps)
		}
	}
}
