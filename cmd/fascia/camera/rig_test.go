package camera

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/camera/align"
	"github.com/fascia-bench/fascia/capture/capturetest/simbench"
	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
	"github.com/fascia-bench/fascia/compare/photo"
	"github.com/fascia-bench/fascia/suites/demo"
)

func conditions() simcam.Rig {
	return simcam.Rig{Width: 320, Height: 240, PhotoWidth: 1280, PhotoHeight: 720, Focal: 1000,
		Tilt: 8 * math.Pi / 180, TiltTo: 0.7, Roll: 2 * math.Pi / 180, Fill: 0.6, OffX: 18, OffY: -6,
		K1: -0.06, K2: 0.01, Gap: 0.15, Gamma: 2.2, Conditions: simcam.Good.Conditions()}
}

// A rig is a bench with a camera, in a folder with the demo's walks and goldens, that has learnt its panel.
type rig struct {
	*simbench.Bench
	cam   *simcam.Camera
	dir   string
	file  string // the bench's
	bare  string // what stood in it before it was aligned
	quick time.Duration
}

// patience is the camera's in bench.yaml: a photo is simulated, on a machine that may have other work.
const patience = "timeout: 2m"

// aligned is made once: learning a bench takes its time.
var aligned = sync.OnceValues(func() (*rig, error) {
	dir, err := os.MkdirTemp("", "fascia-camera-")
	if err != nil {
		return nil, err
	}
	r := &rig{cam: simcam.New(conditions(), 1), dir: dir, file: filepath.Join(dir, "bench.yaml")}
	if err := demo.Unpack(dir); err != nil {
		return r, err
	}
	wasm, err := demo.Twin()
	if err != nil {
		return r, err
	}
	if r.Bench, err = simbench.Start(context.Background(), wasm, r.cam); err != nil {
		return r, err
	}
	r.bare = fmt.Sprintf("bench: b\ntarget: fernhouse-320\ndevice: {link: %q}\ncamera: # ours\n  source: %q\n  average: 1\n  drop: 0\n  %s\n", r.Link(), r.Source(), patience)
	if err := os.WriteFile(r.file, []byte(r.bare), 0o666); err != nil {
		return r, err
	}
	return r, r.learn()
})

// learn aligns the bench as fascia bench align does.
func (r *rig) learn() (err error) {
	ctx := context.Background()
	b, err := bench.Read(r.file)
	if err != nil {
		return err
	}
	d, err := b.Open(ctx, bench.Options{})
	if err != nil {
		return err
	}
	src, err := b.Camera.Open()
	if err != nil {
		return errors.Join(err, d.Close())
	}
	began := time.Now()
	patterns, shots, err := align.Live{Pause: 1}.Patterns(ctx, d, src)
	if err = errors.Join(err, src.Close(), d.Close()); err != nil {
		return err
	}
	// Long enough that a photo of a live camera comes, as photos take on this machine now, with its other work.
	r.quick = max(2*time.Second, 8*time.Since(began)/time.Duration(len(shots)))
	o, rep, err := photo.Learn(patterns, shots)
	if err != nil {
		return err
	}
	return align.Save(r.file, o, rep, "")
}

// hasty is a file of the same bench, whose camera is waited for no longer than need be.
func (r *rig) hasty() (string, error) {
	text, err := os.ReadFile(r.file)
	if err != nil {
		return "", err
	}
	file := filepath.Join(r.dir, "hasty.yaml")
	return file, os.WriteFile(file, []byte(strings.Replace(string(text), patience, fmt.Sprintf("timeout: %v", r.quick.Round(time.Millisecond)), 1)), 0o666)
}

func start(t *testing.T) *rig {
	t.Helper()
	r, err := aligned()
	if err != nil {
		t.Fatal(err)
	}
	r.Set(simbench.World{})
	return r
}

func TestMain(m *testing.M) {
	status := m.Run()
	if r, err := aligned(); err == nil {
		if err := errors.Join(r.Close(), os.RemoveAll(r.dir)); err != nil {
			fmt.Fprintln(os.Stderr, err)
			status = 1
		}
	}
	os.Exit(status)
}
