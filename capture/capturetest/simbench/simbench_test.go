package simbench_test

import (
	"errors"
	"image"
	"image/color"
	"image/draw"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/camera"
	"github.com/fascia-bench/fascia/capture/capturetest/simbench"
	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
	"github.com/fascia-bench/fascia/capture/link"
)

// start sets a bench up and opens its device as bench.yaml says.
func start(t *testing.T) (*simbench.Bench, *simcam.Camera, *bench.Device, *bench.Bench) {
	t.Helper()
	wasm, err := os.ReadFile("../../../suites/demo/fernhouse-draw-1.wasm")
	if err != nil {
		t.Fatal(err)
	}
	r := simcam.Random(5, simcam.Good, 320, 240)
	r.PhotoWidth, r.PhotoHeight, r.Focal = 640, 480, 600 // small, since nothing is measured here
	cam := simcam.New(r, 5)
	s, err := simbench.Start(t.Context(), wasm, cam)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	file := filepath.Join(t.TempDir(), "bench.yaml")
	text := "bench: b\ntarget: t\ndevice: {link: \"" + s.Link() + "\"}\ncamera: {source: \"" + s.Source() + "\", average: 1, drop: 0, timeout: 5s}\n"
	if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
	b, err := bench.Read(file)
	if err != nil {
		t.Fatal(err)
	}
	d, err := b.Open(t.Context(), bench.Options{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { d.Close() })
	return s, cam, d, b
}

func at(m image.Image, x, y float64) color.RGBA {
	return color.RGBAModel.Convert(m.At(int(x+0.5), int(y+0.5))).(color.RGBA)
}

// TestThePhotoShowsWhatTheDeviceDraws through the real link and the real stream.
func TestThePhotoShowsWhatTheDeviceDraws(t *testing.T) {
	s, cam, d, b := start(t)
	ctx := t.Context()
	src, err := b.Camera.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	left, right := [2]float64{60, 120}, [2]float64{260, 120}
	m := image.NewRGBA(image.Rect(0, 0, 320, 240))
	for i, c := range []color.RGBA{{255, 0, 0, 255}, {0, 255, 0, 255}, {0, 0, 255, 255}} {
		draw.Draw(m, m.Rect, image.Black, image.Point{}, draw.Src)
		draw.Draw(m, image.Rect(160, 0, 320, 240), image.NewUniform(c), image.Point{}, draw.Src)
		if err := d.Show(ctx, m, nil); err != nil {
			t.Fatal(err)
		}
		p, err := src.Photo(ctx)
		if err != nil {
			t.Fatal(err)
		}
		dark, lit := at(p, first(cam.Rig.Truth(left[0], left[1])), second(cam.Rig.Truth(left[0], left[1]))),
			at(p, first(cam.Rig.Truth(right[0], right[1])), second(cam.Rig.Truth(right[0], right[1])))
		v := [3]uint8{lit.R, lit.G, lit.B}
		if dark.R > 90 || dark.G > 90 || dark.B > 90 || v[i] < 130 || v[i] < v[(i+1)%3] || v[i] < v[(i+2)%3] {
			t.Errorf("colour %v is seen as %v, beside a black that is seen as %v", c, lit, dark)
		}
	}
	// A fault of the glass is seen by the camera and not by the link.
	s.Set(simbench.World{Glass: func(m *image.RGBA) { draw.Draw(m, m.Rect, image.Black, image.Point{}, draw.Src) }})
	p, err := src.Photo(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if lit := at(p, first(cam.Rig.Truth(right[0], right[1])), second(cam.Rig.Truth(right[0], right[1]))); lit.B > 90 {
		t.Errorf("a black glass is seen as %v", lit)
	}
	if shot, err := d.Look(ctx, link.LookOptions{}); err != nil || shot.Frame.RGBA().RGBAAt(200, 9).B != 255 {
		t.Errorf("the link sees the fault of the glass, or fails: %v", err)
	}
}

func first(a, _ float64) float64  { return a }
func second(_, b float64) float64 { return b }

// TestTimeOnTheLine: time runs while an answer is awaited and stands still between, as on a twin in process, so
// that a walk over this line sees the same pictures.
func TestTimeOnTheLine(t *testing.T) {
	_, _, d, _ := start(t)
	ctx := t.Context()
	began := time.Now()
	if err := d.Wait(ctx, 50*time.Second); err != nil {
		t.Fatal(err)
	}
	if real := time.Since(began); real > 20*time.Second {
		t.Errorf("50 s of the device took %v", real)
	}
	if moving, err := d.Settle(ctx, 200*time.Millisecond, 3*time.Second); err != nil || moving {
		t.Errorf("the screen does not come to rest: %v, %v", moving, err)
	}
	one, err := d.Look(ctx, link.LookOptions{})
	if err != nil {
		t.Fatal(err)
	}
	time.Sleep(300 * time.Millisecond)
	two, err := d.Look(ctx, link.LookOptions{})
	if err != nil || one.Hash != two.Hash {
		t.Errorf("the screen changed while nobody waited: %v", err)
	}
	if err := d.Reset(ctx, 10*time.Second); err != nil {
		t.Errorf("reset: %v", err)
	}
}

// TestAnUnpluggedCamera gives no photo, in a sentence, and is back when it is plugged in.
func TestAnUnpluggedCamera(t *testing.T) {
	s, _, _, b := start(t)
	b.Camera.Options.Timeout = 500 * time.Millisecond
	src, err := b.Camera.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	s.Set(simbench.World{Gone: true})
	if _, err := src.Photo(t.Context()); !errors.Is(err, camera.ErrNoPhoto) {
		t.Errorf("an unplugged camera: %v", err)
	}
	s.Set(simbench.World{})
	b.Camera.Options.Timeout = 0
	back, err := b.Camera.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer back.Close()
	if _, err := back.Photo(t.Context()); err != nil {
		t.Errorf("plugged in again: %v", err)
	}
}

func TestAnotherFirmware(t *testing.T) {
	s, _, d, _ := start(t)
	wasm, err := os.ReadFile("../../../suites/demo/fernhouse-draw-2.wasm")
	if err != nil {
		t.Fatal(err)
	}
	before := d.Hello().Library
	if err := s.Flash(t.Context(), wasm); err != nil {
		t.Fatal(err)
	}
	if err := d.Greet(t.Context()); err != nil || d.Hello().Library == before {
		t.Errorf("after flashing the device says %q as before, %v", d.Hello().Library, err)
	}
}
