package align

import (
	"image"
	"image/color"
	"image/draw"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare/photo"
)

func TestTheCameraSectionIsChangedAndNothingElse(t *testing.T) {
	now := []string{"aligned: # by us", "  photo: [640, 480]"}
	tests := []struct{ name, why, in, source, want string }{
		{"no file", "there may be none yet", "", "", "camera:\n  aligned: # by us\n    photo: [640, 480]\n"},
		{"no camera", "it comes last", "bench: b\n", "0", "bench: b\ncamera:\n  source: \"0\"\n  aligned: # by us\n    photo: [640, 480]\n"},
		{"no line's end", "the last line may lack it", "bench: b", "", "bench: b\ncamera:\n  aligned: # by us\n    photo: [640, 480]\n"},
		{"settings", "they stay, comments too", "camera: # mine\n    source: x # here\n    gain: 3\npanel: p\n", "", "camera: # mine\n    source: x # here\n    gain: 3\n    aligned: # by us\n      photo: [640, 480]\npanel: p\n"},
		{"aligned before", "the old figures go", "camera:\n  aligned:\n    photo: [1, 2]\n\n  gain: 3\n# end\n", "", "camera:\n\n  gain: 3\n  aligned: # by us\n    photo: [640, 480]\n# end\n"},
		{"another source", "the old one goes", "camera:\n  source: a\n  lamps:\n    x: [1, 2, 3]\n", "b", "camera:\n  lamps:\n    x: [1, 2, 3]\n  source: \"b\"\n  aligned: # by us\n    photo: [640, 480]\n"},
	}
	for _, tt := range tests {
		got, err := withCamera("bench.yaml", tt.in, now, tt.source)
		if err != nil || got != tt.want {
			t.Errorf("%s: %v\n%s\nwant\n%s(%s)", tt.name, err, got, tt.want, tt.why)
		}
	}
	if _, err := withCamera("bench.yaml", "bench: b\ncamera: {source: 0}\n", now, ""); err == nil || !strings.HasPrefix(err.Error(), "bench.yaml:2: ") {
		t.Errorf("a section in one line: %v", err)
	}
}

func TestOpticsThatDoNotBelong(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "bench.yaml")
	const head = "camera:\n  aligned:\n    photo: [640, 480]\n    panel: [320, 240]\n    optics: {file: b.optics, sha256: e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855}\n"
	if err := os.WriteFile(file, []byte(head), 0o666); err != nil {
		t.Fatal(err)
	}
	load := func() error {
		c, err := bench.CameraOf(file)
		if err != nil {
			t.Fatal(err)
		}
		_, err = Load(c)
		return err
	}
	if err := load(); err == nil || !strings.Contains(err.Error(), "run fascia bench align") {
		t.Errorf("no file: %v", err)
	}
	side := filepath.Join(dir, "b.optics")
	if err := os.WriteFile(side, nil, 0o666); err != nil { // its hash is that of the section
		t.Fatal(err)
	}
	if err := load(); err == nil || !strings.Contains(err.Error(), "not a file of optics") {
		t.Errorf("an empty file: %v", err)
	}
	if err := os.WriteFile(side, []byte("x"), 0o666); err != nil {
		t.Fatal(err)
	}
	if err := load(); err == nil || !strings.Contains(err.Error(), "another alignment") {
		t.Errorf("another file: %v", err)
	}
	for _, junk := range []string{magic, magic + "\x1f\x8b", "fascia camera optics 9\n"} {
		if _, err := unpack("b.optics", []byte(junk)); err == nil {
			t.Errorf("%q is read as optics", junk)
		}
	}
}

func TestPatternsAreFiles(t *testing.T) {
	names, err := WritePatterns(128, 96, filepath.Join(t.TempDir(), "p"))
	if err != nil || len(names) < 20 {
		t.Fatalf("%d patterns, %v", len(names), err)
	}
	if _, shots, err := Photos(128, 96, filepath.Dir(names[0])); err != nil || len(shots) != len(names) {
		t.Errorf("%d photos are found by the patterns' names, %v", len(shots), err)
	}
	if err := os.Remove(names[3]); err != nil {
		t.Fatal(err)
	}
	if _, _, err := Photos(128, 96, filepath.Dir(names[0])); err == nil || !strings.Contains(err.Error(), "no photo of pattern") {
		t.Errorf("a photo is missing: %v", err)
	}
	if _, err := WritePatterns(20, 20, t.TempDir()); err == nil {
		t.Error("patterns for a panel of 20x20")
	}
}

// TestOwnScreensAreKept: photos that are kept are of use later, also those of the device's own screens.
func TestOwnScreensAreKept(t *testing.T) {
	dir := t.TempDir()
	own := image.NewRGBA(image.Rect(0, 0, 128, 96))
	draw.Draw(own, image.Rect(10, 10, 60, 40), image.NewUniform(color.RGBA{255, 0, 0, 255}), image.Point{}, draw.Src)
	for _, p := range photo.Patterns(128, 96, own) {
		if err := keep(p, p.Image, dir); err != nil {
			t.Fatal(err)
		}
	}
	patterns, shots, err := Photos(128, 96, dir)
	if err != nil || len(patterns) != len(shots) {
		t.Fatalf("%d photos of %d patterns, %v", len(shots), len(patterns), err)
	}
	ours := 0
	for i, p := range patterns {
		if p.Own {
			ours++
		}
		if picture.Hash(p.Image) != picture.Hash(shots[i]) {
			t.Errorf("pattern %s is not what was shown", p.Name)
		}
	}
	if ours != 2 {
		t.Errorf("the screen is shown twice; of %d patterns it is told", ours)
	}
	shown, err := filepath.Glob(filepath.Join(dir, "*"+shownSuffix))
	if err != nil || len(shown) != 1 {
		t.Fatalf("%v, %v", shown, err)
	}
	if err := picture.WritePNG(shown[0], image.NewRGBA(image.Rect(0, 0, 96, 128))); err != nil {
		t.Fatal(err)
	}
	if _, _, err := Photos(128, 96, dir); err == nil || !strings.Contains(err.Error(), "is 96x128, the panel 128x96") {
		t.Errorf("a screen of another panel: %v", err)
	}
	if err := os.WriteFile(shown[0], []byte("\x89PNG"), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, _, err := Photos(128, 96, dir); err == nil || !strings.Contains(err.Error(), shownSuffix) {
		t.Errorf("a torn picture: %v", err)
	}
	for _, p := range photo.Patterns(128, 96) { // later, of a bench without goldens, into the same folder
		if err := keep(p, p.Image, dir); err != nil {
			t.Fatal(err)
		}
	}
	if patterns, _, err = Photos(128, 96, dir); err != nil || slices.ContainsFunc(patterns, func(p photo.Pattern) bool { return p.Own }) {
		t.Errorf("an earlier alignment's screen is taken for one of this: %v", err)
	}
}
