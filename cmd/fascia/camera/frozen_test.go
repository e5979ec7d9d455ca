package camera

import (
	"errors"
	"image"
	"image/color"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture/camera"
	"github.com/fascia-bench/fascia/capture/capturetest/simbench"
	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/record"
)

// TestOldPicturesDoNotPass: a camera that repeats itself to the bit, and one whose old picture has fresh noise, as an encoder or a
// clock drawn into the picture makes it. Both are of a screen that is approved, so that nothing but their age is wrong.
func TestOldPicturesDoNotPass(t *testing.T) {
	ctx := t.Context()
	r := start(t)
	hasty, err := r.hasty()
	if err != nil {
		t.Fatal(err)
	}
	open := func(file string) *suites.Bench {
		t.Helper()
		b, err := suites.OpenBench(ctx, file, nil)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { b.Close() })
		return b
	}
	b := open(hasty)
	if err := b.Walk(ctx, "about", "", nil); err != nil {
		t.Fatalf("a live camera: %v", err)
	}
	r.Set(simbench.World{Shot: simcam.Shot{Frozen: true}})
	l, err := b.Look(ctx, "about")
	if !errors.Is(err, camera.ErrFrozen) || l.Verdict != record.NoCapture || !strings.Contains(l.Why, "repeats an old picture") {
		t.Errorf("frozen in the midst of a walk: %s, %v", l.Verdict, err)
	}
	if err := b.Walk(ctx, "home", "", nil); !errors.Is(err, camera.ErrFrozen) {
		t.Errorf("frozen before a walk: %v", err)
	}
	r.Set(simbench.World{Gone: true})
	if err := b.Walk(ctx, "home", "", nil); !errors.Is(err, camera.ErrNoPhoto) || !strings.Contains(err.Error(), "is it plugged in") {
		t.Errorf("unplugged before a walk: %v", err)
	}
	r.Set(simbench.World{})

	patient := open(r.file)
	white := image.NewRGBA(image.Rect(0, 0, 320, 240))
	for i := range white.Pix {
		white.Pix[i] = 255
	}
	half := image.NewRGBA(white.Rect)
	for y := range 240 {
		for x := range 160 {
			half.Set(x, y, color.White)
		}
	}
	for name, w := range map[string]simbench.World{
		"an old screen":      {Other: half},
		"a white one":        {Other: white},
		"in the dark":        {Shot: simcam.Shot{Exposure: 1e-9}},
		"another resolution": {Shot: simcam.Shot{Half: true}},
	} {
		r.Set(w)
		if err := patient.Walk(ctx, "about", "", nil); !errors.Is(err, suites.ErrBlind) {
			t.Errorf("%s before a walk: %v", name, err)
		}
	}
	r.Set(simbench.World{})
	if err := patient.Walk(ctx, "about", "", nil); err != nil {
		t.Errorf("alive again: %v", err)
	}
	if err := patient.Feed(ctx, "temperature", "21.4"); err != nil {
		t.Errorf("the device after all those patterns: %v", err)
	}
}
