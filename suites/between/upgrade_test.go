package between

import (
	"image"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/disintegration/imaging"
)

// Of 65 windows of a real graphics library 51 are drawn otherwise by its next major version. Five of them are damaged
// besides: a torn picture, a fill that is lost, words on a black box twice, and a button that is gone. Each must stand
// near the top of some fifty changes. The box of words was ranked after the first of the five sets had been seen; on
// the others nothing was set.
func TestDefectsOfARealUpgrade(t *testing.T) {
	const top, mean = 12, 6
	source := filepath.Join("testdata", "upgrade")
	sets, err := filepath.Glob(filepath.Join(source, "defects-*", "defects.txt"))
	if err != nil || len(sets) != 5 {
		t.Fatalf("%d sets of defects, error %v", len(sets), err)
	}
	sum, n := 0, 0
	for _, list := range sets {
		after := t.TempDir()
		for _, dir := range []string{filepath.Join(source, "after"), filepath.Dir(list)} { // the damaged over the sound
			copyPictures(t, after, dir)
		}
		p, err := Open(filepath.Join(source, "before"), after)
		if err != nil {
			t.Fatal(err)
		}
		r, err := p.Compare()
		if err != nil {
			t.Fatal(err)
		}
		if len(p.Looks) != 65 || r.Differ() < 40 {
			t.Errorf("%d windows, of which %d differ", len(p.Looks), r.Differ())
		}
		told, err := os.ReadFile(list)
		if err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(string(told)) {
			window, what, _ := strings.Cut(strings.TrimSpace(line), "\t")
			g := firstAt(r, window, damage(t, source, filepath.Dir(list), window))
			t.Logf("%s, %s: %s, %d of %d: %s", filepath.Base(filepath.Dir(list)), window, what, g.Rank, len(r.All()), g.Says)
			if g.Rank > top || len(g.Looks) > 1 {
				t.Errorf("%s (%s) comes %d of %d, on %d windows: %s", window, what, g.Rank, len(r.All()), len(g.Looks), g.Says)
			}
			sum, n = sum+g.Rank, n+1
		}
	}
	if n != 25 || sum > mean*n {
		t.Errorf("%d defects, on average at %d/%d", n, sum, n)
	}
}

func copyPictures(t *testing.T, to, from string) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(from, "*.png"))
	if err != nil || len(files) < 5 {
		t.Fatalf("%s: %d pictures, error %v", from, len(files), err)
	}
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(to, filepath.Base(f)), b, 0o666); err != nil {
			t.Fatal(err)
		}
	}
}

// damage is the box in which a damaged window differs from the sound one.
func damage(t *testing.T, source, dir, window string) (box image.Rectangle) {
	t.Helper()
	var m [2]*image.NRGBA
	for k, d := range [2]string{filepath.Join(source, "after"), dir} {
		img, err := imaging.Open(filepath.Join(d, window+".png"))
		if err != nil {
			t.Fatal(err)
		}
		m[k] = imaging.Clone(img)
	}
	for i := 0; i < len(m[0].Pix); i += 4 {
		if !same(m[0].Pix[i:], m[1].Pix[i:]) {
			x, y := i/4%m[0].Rect.Dx(), i/4/m[0].Rect.Dx()
			box = box.Union(image.Rect(x, y, x+1, y+1))
		}
	}
	if box.Empty() {
		t.Errorf("%s: %s is not damaged", dir, window)
	}
	return box
}

// firstAt is the first group with a region on a window that covers a good part of a box.
func firstAt(r *Report, window string, box image.Rectangle) Group {
	for _, g := range r.All() {
		for _, l := range g.Looks {
			for _, q := range l.Regions {
				if in := q.Rect().Intersect(box); l.Look == window && in.Dx()*in.Dy()*4 >= box.Dx()*box.Dy() {
					return g
				}
			}
		}
	}
	return Group{Rank: 1 << 20}
}
