package camera

import (
	"image"
	"image/color"
	"image/draw"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture/capturetest/simbench"
	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/record"
)

// TestABenchWithACamera aligns a bench over the link and takes looks on it: of a sound rig, of a glass with a
// fault, and of everything that must end in a sentence and never in a silent same.
func TestABenchWithACamera(t *testing.T) {
	ctx := t.Context()
	r := start(t)
	bare := filepath.Join(r.dir, "bare.yaml")
	if err := os.WriteFile(bare, []byte(r.bare), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := suites.OpenBench(ctx, bare, nil); err == nil || !strings.Contains(err.Error(), "run fascia bench align") {
		t.Errorf("a camera that is not aligned: %v", err)
	}
	after, err := os.ReadFile(r.file)
	if err != nil || !strings.HasPrefix(string(after), r.bare) {
		t.Errorf("align changed what stood in bench.yaml, or left nothing:\n%s", after)
	}

	look := func(file, name string, w simbench.World) (record.Look, error) {
		t.Helper()
		r.Set(simbench.World{})
		b, err := suites.OpenBench(ctx, file, nil)
		if err != nil {
			t.Fatal(err)
		}
		defer b.Close()
		for _, step := range []func() error{
			func() error { return b.Walk(ctx, "about", "start.yaml", nil) },
			func() error { return b.Turn(ctx, 4) },
			func() error { return b.Key(ctx, "enter") },
			func() error { return b.Settle(ctx) },
			func() error { return b.Tap(ctx, 160, 214) },
		} {
			if err := step(); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
		}
		r.Set(w)
		return b.Look(ctx, "about")
	}
	gx, gy := r.cam.Rig.Truth(200, 120)
	hx, hy := r.cam.Rig.Truth(319, 200)
	stuck := func(m *image.RGBA) {
		draw.Draw(m, image.Rect(0, 100, 320, 103), image.NewUniform(color.RGBA{R: 255, A: 255}), image.Point{}, draw.Src)
	}
	for _, tt := range []struct {
		name    string
		world   simbench.World
		verdict record.Verdict
		says    string
	}{
		{"a sound rig", simbench.World{}, record.Same, ""},
		{"rows that are stuck", simbench.World{Glass: stuck}, record.Differs, "on the glass"},
		{"glare", simbench.World{Shot: simcam.Shot{Glare: []simcam.Patch{{X: gx, Y: gy, Radius: 50, Level: 0.3}}}}, record.NoCapture, "light"},
		{"a bump", simbench.World{Shot: simcam.Shot{MoveX: 9, MoveY: 4}}, record.NoCapture, "camera moved"},
		{"half the exposure", simbench.World{Shot: simcam.Shot{Exposure: 0.5}}, record.NoCapture, "bright"},
		{"dark", simbench.World{Shot: simcam.Shot{Exposure: 1e-9}}, record.NoCapture, "dark"},
		{"another resolution", simbench.World{Shot: simcam.Shot{Half: true}}, record.NoCapture, "640x360"},
		{"a hand", simbench.World{Shot: simcam.Shot{Hand: []simcam.Patch{{X: hx, Y: hy, Radius: 110, Level: 0.02}}}}, record.NoCapture, "before the panel"},
	} {
		got, err := look(r.file, tt.name, tt.world)
		if err != nil || got.Verdict != tt.verdict || !strings.Contains(got.Why, tt.says) || got.Photo == nil {
			t.Errorf("%s: %s, %q, %v; want %s with %q", tt.name, got.Verdict, got.Why, err, tt.verdict, tt.says)
			continue
		}
		t.Logf("%s: %s %s", tt.name, got.Verdict, got.Why)
		if tt.verdict == record.Differs && (!got.Photo.Glass || got.Finding == nil || suites.Open(got)) {
			t.Errorf("%s: it can be approved, or has no finding: %+v", tt.name, got.Photo)
		}
	}
	// The photo of a look that is as approved is kept only where all are.
	keeps := filepath.Join(r.dir, "keeps.yaml")
	if err := os.WriteFile(keeps, []byte(strings.Replace(string(after), patience, patience+"\n  keep: all", 1)), 0o666); err != nil {
		t.Fatal(err)
	}
	for file, want := range map[string]bool{r.file: false, keeps: true} {
		if got, err := look(file, "keep", simbench.World{}); err != nil || got.Photo == nil || (got.Photo.Panel != "") != want || got.Verdict != record.Same {
			t.Errorf("%s: photo %+v of a look that is %s, %v; kept must be %v", filepath.Base(file), got.Photo, got.Verdict, err, want)
		}
	}
	lights(t, r)
	other := strings.Replace(string(after), "panel: [320, 240]", "panel: [480, 320]", 1)
	elsewhere := filepath.Join(r.dir, "other.yaml")
	if err := os.WriteFile(elsewhere, []byte(other), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := suites.OpenBench(ctx, elsewhere, nil); err == nil || !strings.Contains(err.Error(), "another bench's file") {
		t.Errorf("another bench's file: %v", err)
	}
}

// lights sweeps by camera, and shows cards to it through a sound glass and one that exchanges red and blue.
func lights(t *testing.T, r *rig) {
	r.Set(simbench.World{})
	b, err := suites.OpenBench(t.Context(), r.file, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if err := b.Walk(t.Context(), "lights", "start.yaml", nil); err != nil {
		t.Fatal(err)
	}
	if x, err := b.Sweep(t.Context(), suites.Sweep{Name: "battery", Feed: "battery", Over: []float64{5, 100}}); err != nil || x.Sweep == nil || x.Sweep.By != "camera" {
		t.Errorf("sweep: %+v, %v", x, err)
	}
	if x, err := b.Glass(t.Context(), 0.3); err != nil || x.Result != record.Met {
		t.Errorf("a sound glass: %+v, %v", x, err)
	}
	r.Set(simbench.World{Glass: func(m *image.RGBA) {
		for i := 0; i < len(m.Pix); i += 4 {
			m.Pix[i], m.Pix[i+2] = m.Pix[i+2], m.Pix[i]
		}
	}})
	if x, err := b.Glass(t.Context(), 0); err != nil || x.Result != record.Missed || !strings.Contains(x.Why, "red and blue") {
		t.Errorf("a glass with red and blue exchanged: %+v, %v", x, err)
	}
}
