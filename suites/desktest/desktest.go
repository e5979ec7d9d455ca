// Package desktest makes runs to be approved, for tests: the folder of a bench with walks, goldens and
// a run, without any device.
package desktest

import (
	"fmt"
	"image"
	"image/color"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/record"
)

// Target is whose goldens they are.
const Target = "fernhouse-48"

// Golden and Capture are what look n shows: two lamps, each of another colour in the capture.
func Golden(n int) image.Image  { return panel(n, 40) }
func Capture(n int) image.Image { return panel(n, 200) }

func panel(n, lamp int) image.Image {
	img := image.NewNRGBA(image.Rect(0, 0, 48, 36))
	for y := range 36 {
		for x := range 48 {
			c := color.NRGBA{uint8(n), uint8(n >> 8), 90, 255}
			if y >= 8 && y < 20 && (x >= 4 && x < 16 || x >= 30 && x < 44) {
				c = color.NRGBA{uint8(lamp), 120, uint8(lamp / 2), 255}
				if x >= 30 {
					c = color.NRGBA{30, uint8(lamp), 200, 255}
				}
			}
			img.SetNRGBA(x, y, c)
		}
	}
	return img
}

// Started is when the run began, Approved when its goldens were approved.
var (
	Started  = time.Date(2031, 5, 4, 9, 30, 0, 0, time.UTC)
	Approved = Started.Add(-24 * time.Hour)
)

// Make makes a bench's folder with a run of so many looks in four walks. Of three looks two differ from
// their golden in two regions, and one has none.
func Make(t testing.TB, dir string, looks int) (runDir string) {
	t.Helper()
	write(t, filepath.Join(dir, "bench.yaml"), "bench: fernhouse\ntarget: "+Target+"\ndevice: {link: \"twin:none.wasm\"}\n")
	byWalk := make([][]int, 4)
	for n := range looks {
		byWalk[n%4] = append(byWalk[n%4], n)
	}
	for w, own := range byWalk {
		var steps strings.Builder
		for _, n := range own {
			fmt.Fprintf(&steps, "  - look: look %d\n", n)
		}
		write(t, filepath.Join(dir, suites.WalksDir, fmt.Sprintf("walk-%d.yaml", w)), fmt.Sprintf("walk: walk %d\nsteps:\n  - settle\n%s", w, &steps))
	}
	plan, err := suites.Prepare(filepath.Join(dir, "bench.yaml"), nil)
	if err != nil {
		t.Fatal(err)
	}
	runDir = filepath.Join(dir, suites.RunsDir, "2031-05-04-093000")
	run := &record.Run{Run: "2031-05-04-093000", Bench: "fernhouse", Target: Target, Started: Started, Ended: Started.Add(time.Minute), Dir: "../..",
		Device: record.Device{Device: "fernhouse", Build: "b2", Library: "draw-2", Width: 48, Height: 36}, Expectations: []record.Expectation{}}
	var goldens []golden.Approval
	for _, w := range plan.Walks {
		run.Walks = append(run.Walks, record.Walk{Walk: w.Name, File: suites.WalksDir + "/" + filepath.Base(w.File), Hash: w.Hash, Looks: len(w.Looks())})
		for _, l := range w.Looks() {
			var n int
			fmt.Sscanf(l.Name, "look %d", &n)
			rec := record.Look{Walk: w.Name, Look: l.Name, Verdict: record.Unapproved, Path: []record.Input{}, Capture: w.Slug + "/" + l.File + ".png"}
			keep(t, runDir, rec.Capture, Capture(n))
			rec.Pixels = picture.Hash(Capture(n))
			if n%3 != 2 {
				res := compare.Compare(Golden(n), Capture(n), compare.Options{})
				rec.Verdict, rec.Finding = record.Differs, &res
				rec.Golden, rec.GoldenPixels = w.Slug+"/"+l.File+".golden.png", picture.Hash(Golden(n))
				keep(t, runDir, rec.Golden, Golden(n))
				goldens = append(goldens, golden.Approval{Target: Target, Walk: w.Name, Look: l.Name, Picture: Golden(n), Who: "Grace", Why: "first", When: Approved})
			}
			run.Looks = append(run.Looks, rec)
		}
	}
	if _, err := plan.Store.Approve(goldens); err != nil {
		t.Fatal(err)
	}
	if err := record.Save(filepath.Join(runDir, record.File), run); err != nil {
		t.Fatal(err)
	}
	return runDir
}

func write(t testing.TB, file, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
}

func keep(t testing.TB, runDir, name string, img image.Image) {
	t.Helper()
	file := filepath.Join(runDir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := picture.WritePNG(file, img); err != nil {
		t.Fatal(err)
	}
}
