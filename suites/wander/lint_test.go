package wander

import (
	"path/filepath"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare/lint"
	"github.com/fascia-bench/fascia/suites/critic"
	"github.com/fascia-bench/fascia/suites/demo/firmware/faults"
)

// What wandering has seen is what lint reads: an overflow that is there in German alone and an alarm of low
// contrast come to light without anybody having scripted a way there.
func TestLintOfWhatWanderSaw(t *testing.T) {
	b, err := faults.New("../demo/firmware", t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		fault, kind, screen string
		sample              int // inputs from the seed of the sample
	}{
		{"overflow", lint.OverEdge, "season", 700},
		{"low-contrast", lint.Contrast, "alarm", 200},
	} {
		wasm, err := b.Plant(tt.fault)
		if err != nil {
			t.Fatal(err)
		}
		t.Run(tt.fault, func(t *testing.T) {
			t.Parallel()
			seeds, steps := []uint64{1}, tt.sample
			if long() {
				seeds, steps = []uint64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, budget
			}
			found := 0
			for _, seed := range seeds {
				r := wanderOn(t, wasm, Options{Seed: seed, Steps: steps})
				n := 0
				for _, fd := range lint.Check(gather(t, r), lint.Defaults) {
					if fd.Kind == tt.kind && strings.HasSuffix(fd.Picture, " "+tt.screen) {
						n++
					}
				}
				t.Logf("seed %d: %d findings on %d pictures of %d screens", seed, n, len(r.Pictures), len(r.Map.Screens))
				if n > 0 {
					found++
				}
			}
			if found*10 < len(seeds)*9 {
				t.Errorf("%s: found from %d of %d seeds, want nine of ten", tt.fault, found, len(seeds))
			}
		})
	}
}

// gather writes a map with its pictures and reads them as fascia lint does.
func gather(t *testing.T, r *Result) []lint.Picture {
	t.Helper()
	dir := t.TempDir()
	for file, img := range r.Pictures {
		if err := picture.WritePNG(filepath.Join(dir, file), img); err != nil {
			t.Fatal(err)
		}
	}
	if err := r.Map.Save(dir); err != nil {
		t.Fatal(err)
	}
	pictures, err := critic.Gather(dir, 0)
	if err != nil {
		t.Fatal(err)
	}
	return pictures
}
