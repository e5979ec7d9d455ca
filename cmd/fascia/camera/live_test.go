package camera

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/camera/align"
	"github.com/fascia-bench/fascia/capture/capturetest/simbench"
	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
	"github.com/fascia-bench/fascia/compare/photo"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/record"
)

func rig() simcam.Rig {
	return simcam.Rig{Width: 320, Height: 240, PhotoWidth: 1280, PhotoHeight: 720, Focal: 1000,
		Tilt: 8 * math.Pi / 180, TiltTo: 0.7, Roll: 2 * math.Pi / 180, Fill: 0.85, OffX: 18, OffY: -6,
		K1: -0.06, K2: 0.01, Gap: 0.15, Gamma: 2.2, Conditions: simcam.Good.Conditions()}
}

// TestABenchWithACamera aligns a bench over the link and takes looks on it: of a sound rig, of a glass with a
// fault, and of everything that must end in a sentence and never in a silent same.
func TestABenchWithACamera(t *testing.T) {
	ctx := t.Context()
	dir := t.TempDir()
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	wasm, err := demo.Twin()
	if err != nil {
		t.Fatal(err)
	}
	cam := simcam.New(rig(), 1)
	s, err := simbench.Start(ctx, wasm, cam)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	file := filepath.Join(dir, "bench.yaml")
	text := fmt.Sprintf("bench: b\ntarget: fernhouse-320\ndevice: {link: %q}\ncamera: # ours\n  source: %q\n  average: 1\n  drop: 0\n  timeout: 30s\n", s.Link(), s.Source())
	if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := suites.OpenBench(ctx, file, nil); err == nil || !strings.Contains(err.Error(), "run fascia bench align") {
		t.Errorf("a camera that is not aligned: %v", err)
	}
	learn(t, ctx, file)
	after, err := os.ReadFile(file)
	if err != nil || !strings.HasPrefix(string(after), text) {
		t.Errorf("align changed what stood in bench.yaml, or left nothing:\n%s", after)
	}

	look := func(name string, w simbench.World) (record.Look, error) {
		t.Helper()
		s.Set(simbench.World{})
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
		s.Set(w)
		return b.Look(ctx, "about")
	}
	gx, gy := cam.Rig.Truth(200, 120)
	hx, hy := cam.Rig.Truth(319, 200)
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
		{"a hand", simbench.World{Shot: simcam.Shot{Hand: []simcam.Patch{{X: hx, Y: hy, Radius: 110, Level: 0.02}}}}, record.NoCapture, "before the panel"},
	} {
		got, err := look(tt.name, tt.world)
		if err != nil || got.Verdict != tt.verdict || !strings.Contains(got.Why, tt.says) || got.Photo == nil {
			t.Errorf("%s: %s, %q, %v; want %s with %q", tt.name, got.Verdict, got.Why, err, tt.verdict, tt.says)
			continue
		}
		t.Logf("%s: %s %s", tt.name, got.Verdict, got.Why)
		if tt.verdict == record.Differs && (!got.Photo.Glass || got.Finding == nil || suites.Open(got)) {
			t.Errorf("%s: it can be approved, or has no finding: %+v", tt.name, got.Photo)
		}
	}
	lights(t, file, s)
	other := strings.Replace(string(after), "panel: [320, 240]", "panel: [480, 320]", 1)
	elsewhere := filepath.Join(dir, "other.yaml")
	if err := os.WriteFile(elsewhere, []byte(other), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := suites.OpenBench(ctx, elsewhere, nil); err == nil || !strings.Contains(err.Error(), "another bench's file") {
		t.Errorf("another bench's file: %v", err)
	}
	quick := strings.Replace(string(after), "timeout: 30s", "timeout: 1s", 1)
	if err := os.WriteFile(file, []byte(quick), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := look("unplugged", simbench.World{Gone: true}); err == nil || !strings.Contains(err.Error(), "is it plugged in") {
		t.Errorf("an unplugged camera: %v", err)
	}
}

// lights sweeps by camera, and shows cards to it through a sound glass and one that exchanges red and blue.
func lights(t *testing.T, file string, s *simbench.Bench) {
	s.Set(simbench.World{})
	b, err := suites.OpenBench(t.Context(), file, nil)
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
	s.Set(simbench.World{Glass: func(m *image.RGBA) {
		for i := 0; i < len(m.Pix); i += 4 {
			m.Pix[i], m.Pix[i+2] = m.Pix[i+2], m.Pix[i]
		}
	}})
	if x, err := b.Glass(t.Context(), 0); err != nil || x.Result != record.Missed || !strings.Contains(x.Why, "red and blue") {
		t.Errorf("a glass with red and blue exchanged: %+v, %v", x, err)
	}
}

// learn aligns the bench as fascia bench align does.
func learn(t *testing.T, ctx context.Context, file string) {
	t.Helper()
	b, err := bench.Read(file)
	if err != nil {
		t.Fatal(err)
	}
	d, err := b.Open(ctx, bench.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	src, err := b.Camera.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	shots, err := align.Live{Pause: 1}.Patterns(ctx, d, src)
	if err != nil {
		t.Fatal(err)
	}
	o, rep, err := photo.Learn(320, 240, shots)
	if err != nil {
		t.Fatal(err)
	}
	if err := align.Save(file, o, rep, ""); err != nil {
		t.Fatal(err)
	}
}
