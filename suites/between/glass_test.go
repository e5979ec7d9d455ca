package between

import (
	"image"
	"image/color"
	"image/draw"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/disintegration/imaging"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/suites/record"
)

// cameraRun writes a run by a bench with a camera: looks of one framebuffer each, with photos of those whose file is
// named in photos.
func cameraRun(t *testing.T, looks []record.Look, dumps, photos map[string]image.Image) string {
	t.Helper()
	dir := t.TempDir()
	write := func(name string, m image.Image) {
		t.Helper()
		if err := os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := picture.WritePNG(filepath.Join(dir, name), m); err != nil {
			t.Fatal(err)
		}
	}
	at := time.Date(2031, 5, 4, 9, 30, 0, 0, time.UTC)
	run := &record.Run{Run: filepath.Base(dir), Started: at, Ended: at, Walks: []record.Walk{{Walk: "home", Done: true}}}
	for _, l := range looks {
		l.Walk = "home"
		dump := "home/" + l.Look + ".png"
		write(dump, dumps[l.Look])
		l.Capture, l.Golden = dump, dump
		l.Pixels = picture.Hash(dumps[l.Look])
		l.GoldenPixels = l.Pixels
		l.Photo = &record.Photo{Same: l.Verdict == record.Same}
		if m := photos[l.Look]; m != nil {
			l.Photo.Panel = "home/" + l.Look + ".glass.png"
			write(l.Photo.Panel, m)
			if l.Verdict == record.Differs { // as a run writes a look that differs on the glass alone
				l.Photo.Glass, l.Capture = true, l.Photo.Panel
			}
		}
		run.Looks = append(run.Looks, l)
	}
	if err := record.Save(filepath.Join(dir, record.File), run); err != nil {
		t.Fatal(err)
	}
	return dir
}

// Of two runs by camera the framebuffers are compared, and photo by photo the looks whose framebuffers are the same and
// whose photos both runs kept. A bar on the glass is found, on the photo and nowhere else; what could not be compared is
// said.
func TestRunsByCamera(t *testing.T) {
	screen := func(at int) *image.NRGBA {
		m := imaging.New(320, 240, color.NRGBA{240, 236, 228, 255})
		for k := range 5 {
			draw.Draw(m, image.Rect(20, 30+40*k, 120+at+20*k, 50+40*k), image.NewUniform(color.NRGBA{uint8(40 * k), 96, 120, 255}), image.Point{}, draw.Src)
		}
		return m
	}
	barred := imaging.Clone(screen(20))
	draw.Draw(barred, image.Rect(0, 100, 320, 108), image.NewUniform(color.NRGBA{200, 20, 20, 255}), image.Point{}, draw.Src)
	light := [3]float64{1, 1, 1}
	photo := func(m image.Image, seed uint64) image.Image { return photographed(m, seed, light, 2.5) }

	looks := []record.Look{{Look: "still", Verdict: record.Same}, {Look: "barred", Verdict: record.Same}, {Look: "unkept", Verdict: record.Same}, {Look: "other", Verdict: record.Same}}
	dumps := map[string]image.Image{"still": screen(0), "barred": screen(20), "unkept": screen(40), "other": screen(60)}
	before := cameraRun(t, looks, dumps, map[string]image.Image{"still": photo(screen(0), 1), "barred": photo(screen(20), 2), "unkept": photo(screen(40), 3), "other": photo(screen(60), 4)})
	looks = slices.Clone(looks)
	looks[1].Verdict = record.Differs
	dumps = map[string]image.Image{"still": screen(0), "barred": screen(20), "unkept": screen(40), "other": screen(80)}
	light = [3]float64{0.85, 0.9, 0.8}
	after := cameraRun(t, looks, dumps, map[string]image.Image{"still": photo(screen(0), 5), "barred": photo(barred, 6), "other": photo(screen(80), 7)})

	p, err := Open(before, after)
	if err != nil {
		t.Fatal(err)
	}
	r, err := p.Compare()
	if err != nil {
		t.Fatal(err)
	}
	on := map[string]bool{}
	for _, g := range r.All() {
		for _, l := range g.Looks {
			on[l.Look] = true
		}
	}
	if len(on) != 2 || !on["other"] || !on["barred"+PhotoOf] {
		t.Errorf("differences on %v, want other and the photo of barred", on)
	}
	for _, want := range []string{
		"Camera: of 3 looks with the same framebuffer 2 are compared photo by photo as well.",
		"Camera: of 1 looks one run or both kept no photo, so what the glass shows of them is not compared: camera: {keep: all} in bench.yaml keeps every photo.",
		"Camera: of 1 looks the framebuffers differ, or one is not known, so their photos are not compared.",
	} {
		if !slices.Contains(r.Mapped, want) {
			t.Errorf("not said: %s\nof %q", want, r.Mapped)
		}
	}
	var said strings.Builder
	r.Tell(&said)
	if !strings.Contains(said.String(), "4 looks and 2 photos of them: 4 same, 2 differ") {
		t.Errorf("told:\n%s", said.String())
	}
	// Against its goldens the framebuffer counts: what differs on the glass alone has nothing to approve.
	if p, err = Open(after, ""); err != nil {
		t.Fatal(err)
	}
	if r, err = p.Compare(); err != nil || r.Differ() != 0 {
		t.Errorf("against the goldens: %d differ, %v", r.Differ(), err)
	}
}
