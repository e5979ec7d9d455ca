// Package walks walks the demo before a simulated camera, by the command as people have it.
package walks

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture/capturetest/simbench"
	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
	"github.com/fascia-bench/fascia/cmd/fascia/internal/built"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/record"
)

func TestMain(m *testing.M) { built.Main(m) }

// rig is a small camera close before the panel, 2 photo px a panel px: its photos are quick to simulate.
var rig = simcam.Rig{Width: 320, Height: 240, PhotoWidth: 720, PhotoHeight: 540, Focal: 800,
	Tilt: 0.1, TiltTo: 0.7, Roll: 0.03, Fill: 0.9, OffX: 6, OffY: -4, K1: -0.05, Gap: 0.15, Gamma: 2.2, Conditions: simcam.Fair.Conditions()}

// TestDemoWalksByCamera is fascia demo --camera in short, by the command as people have it: the bench is aligned, draw-1
// is the same throughout, by dumps and then by photos that were approved; draw-2 is not, and photos say so by themselves.
func TestDemoWalksByCamera(t *testing.T) {
	dir := t.TempDir()
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	wasm, err := demo.Twin()
	if err != nil {
		t.Fatal(err)
	}
	s, err := simbench.Start(t.Context(), wasm, simcam.New(rig, 2))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	file := filepath.Join(dir, "bench.yaml")
	write := func(golden string) {
		old, _ := os.ReadFile(file)
		_, aligned, _ := strings.Cut(string(old), "  aligned:")
		text := fmt.Sprintf("bench: b\ntarget: fernhouse-320\ndevice: {link: %q}\ncommands: {bench-light-off: echo off}\ncamera:\n  source: %q\n  average: 1\n  drop: 0\n  timeout: 2m\n  golden: %s\n", s.Link(), s.Source(), golden)
		if aligned != "" {
			text += "  aligned:" + aligned
		}
		if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Remove(file); err != nil {
		t.Fatal(err)
	}
	write("dump")
	if out := built.Run(t, built.OK, "bench", "align", "--bench", file); !strings.Contains(out, "golden: a ") {
		t.Errorf("nothing is said of which golden is better:\n%s", out)
	}
	if out := built.Run(t, built.OK, "bench", "check", "--bench", file); !strings.Contains(out, "photo px a panel px") || !strings.Contains(out, "moved by") {
		t.Errorf("the check says nothing of the camera:\n%s", out)
	}
	walk := func(status int) *record.Run {
		t.Helper()
		out := built.Run(t, status, "run", "--bench", file, filepath.Join(dir, "walks", "season.yaml"))
		latest, err := record.Latest(filepath.Join(dir, suites.RunsDir))
		if err != nil {
			t.Fatal(err)
		}
		run, err := record.Load(latest)
		if err != nil {
			t.Fatal(err)
		}
		if len(run.Looks) < 3 {
			t.Fatalf("only %d looks:\n%s", len(run.Looks), out)
		}
		return run
	}
	// What only a camera can be asked, as fascia demo --camera does.
	if out := built.Run(t, built.OK, "run", "--bench", file, filepath.Join(dir, demo.CameraWalks, "light.yaml")); !strings.Contains(out, "2 met") {
		t.Errorf("the walks for a camera:\n%s", out)
	}
	for _, l := range walk(built.OK).Looks {
		if l.Photo == nil || !l.Photo.Same || l.Photo.Golden != "" {
			t.Errorf("%s, against its dump: %+v", l.Look, l.Photo)
		}
	}
	write("photo")
	for _, l := range walk(built.OK).Looks {
		if l.Photo == nil || l.Photo.Pixels == "" || !strings.Contains(strings.Join(l.Warnings, " "), "approve --photos") {
			t.Errorf("%s, which has no photo for a golden yet: %+v, %q", l.Look, l.Photo, l.Warnings)
		}
	}
	built.Run(t, built.OK, "approve", "--bench", file, "--photos", "--reason", "as seen", "--by", "Ada")
	for _, l := range walk(built.OK).Looks {
		if l.Photo == nil || !l.Photo.Same || l.Photo.Golden == "" {
			t.Errorf("%s, against its photo: %+v", l.Look, l.Photo)
		}
	}
	upgraded, err := demo.Files.ReadFile("fernhouse-draw-2.wasm")
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Flash(t.Context(), upgraded); err != nil {
		t.Fatal(err)
	}
	seen := 0
	for _, l := range walk(built.Differs).Looks {
		if l.Photo != nil && !l.Photo.Same && l.Photo.Why == "" {
			seen++
		}
	}
	if seen == 0 {
		t.Error("the camera sees nothing of the upgrade")
	}
	built.Run(t, built.OK, "golden", "check", "--bench", file)
}
