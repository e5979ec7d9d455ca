package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/fascia-bench/fascia/capture/capturetest/simbench"
	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/record"
)

// demoRig is the demo's camera: of 1280x720 px, 8 degrees off the panel's normal, 2.5 photo px a panel px.
func demoRig(d simcam.Difficulty) simcam.Rig {
	const degree = math.Pi / 180
	return simcam.Rig{Width: 320, Height: 240, PhotoWidth: 1280, PhotoHeight: 720, Focal: 1000,
		Tilt: 8 * degree, TiltTo: 40 * degree, Roll: 2 * degree, Fill: 0.85, OffX: 18, OffY: -6,
		K1: -0.06, K2: 0.01, P1: 0.0004, P2: -0.0003, Gap: 0.15, Gamma: 2.2, Conditions: d.Conditions()}
}

func difficulty(name string) (simcam.Difficulty, error) {
	var names []string
	for _, d := range simcam.Difficulties {
		if d.String() == name {
			return d, nil
		}
		names = append(names, d.String())
	}
	return 0, fmt.Errorf("a simulated camera is one of %s, not %q", strings.Join(names, ", "), name)
}

// demoCamera walks the demo before a simulated camera: the device is behind a TCP port, the camera streams MJPEG over
// HTTP, and bench.yaml names both, as it would on a real bench.
func (a *app) demoCamera(ctx context.Context, dir, conditions string) (err error) {
	d, err := difficulty(conditions)
	if err != nil {
		return err
	}
	if err := demo.Unpack(dir); err != nil {
		return err
	}
	wasm, err := demo.Twin()
	if err != nil {
		return err
	}
	rig, err := simbench.Start(ctx, wasm, simcam.New(demoRig(d), 1))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, rig.Close()) }()
	file := filepath.Join(dir, "bench-camera.yaml")
	text := fmt.Sprintf(`# The Fernhouse controller before a simulated camera in %s conditions. Both are there only while the demo runs.
bench: fernhouse-camera
target: fernhouse-320
device:
  link: %s
panel: {width: 320, height: 240, format: rgb565}
commands: {bench-light-off: echo the lamp over the bench is off}
camera:
  source: %s
  average: 1 # each frame is simulated, which takes its time
  drop: 0
  timeout: 2m
`, d, rig.Link(), rig.Source())
	if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "1. The camera measures its panel, which shows patterns\n\n")
	if err := a.align(ctx, alignOptions{bench: file, out: file}); err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "\n2. The firmware as approved, on drawing layer draw-1, by link and camera\n\n")
	var walks []string
	for _, folder := range []string{"walks", demo.CameraWalks} {
		in, err := filepath.Glob(filepath.Join(dir, folder, "*.yaml"))
		if err != nil {
			return err
		}
		walks = append(walks, in...)
	}
	// That one asks for a person's hand, which only a twin within this program has been lent.
	walks = slices.DeleteFunc(walks, func(w string) bool { return filepath.Base(w) == "by-hand.yaml" })
	first, _, err := a.walk(ctx, file, walks, runOptions{})
	if err != nil {
		return err
	}
	if first.Exit() != exitOK {
		return errors.New("the demo's own device does not look as approved before this camera")
	}
	upgraded, err := demo.Files.ReadFile("fernhouse-draw-2.wasm")
	if err != nil {
		return err
	}
	if err := rig.Flash(ctx, upgraded); err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "\n3. The same firmware on the upgraded drawing layer draw-2, by link and camera\n\n")
	second, page, err := a.walk(ctx, file, walks, runOptions{})
	if err != nil {
		return err
	}
	if second.Exit() == exitNoVerdict {
		return errors.New("the upgraded device could not be walked to the end")
	}
	seen, found := 0, 0
	for _, l := range second.Looks {
		if l.Verdict == record.Differs {
			found++
			if l.Photo != nil && !l.Photo.Same {
				seen++
			}
		}
	}
	fmt.Fprintf(a.stdout, "\nOf %d looks that differ, the camera by itself sees %d. The page to look at them:\n  %s\n", found, seen, page)
	return nil
}
