package photo

import (
	"image"
	"image/color"
	"math"
	"strings"
	"testing"
)

// TestGoldenIsAnEarlierPhoto: a photo that was approved before, brought back to the panel, serves as a golden of its own.
func TestGoldenIsAnEarlierPhoto(t *testing.T) {
	c, o := shared()
	earlier := func(m image.Image) image.Image {
		res, err := o.Compare(m, c.Photo(m), Options{})
		if err != nil {
			t.Fatal(err)
		}
		return res.Picture
	}
	all := screens(t)
	for i := range 5 {
		m := all[i*5+1]
		res, err := o.Compare(earlier(m), c.Photo(m), Options{GoldenIsPhoto: true})
		if err != nil || !res.Same {
			t.Errorf("screen %d: an unchanged screen: %+v, %v", i*5+1, res, err)
		}
	}
	changed := clone(all[12])
	fillRect(changed, image.Rect(100, 80, 140, 110), color.RGBA{220, 40, 40, 255})
	res, err := o.Compare(earlier(all[12]), c.Photo(changed), Options{GoldenIsPhoto: true})
	if err != nil || res.Same {
		t.Errorf("a box that has appeared: not found, %v", err)
	} else if box := image.Rect(90, 70, 150, 120); !image.Rect(res.Regions[0].X, res.Regions[0].Y, res.Regions[0].X+res.Regions[0].W, res.Regions[0].Y+res.Regions[0].H).In(box) {
		t.Errorf("a box at 100,80 to 139,109 is told as %+v", res.Regions)
	}
	old := o.twice() // which has learnt nothing of the kind
	if _, err := old.Compare(all[0], c.Photo(all[0]), Options{GoldenIsPhoto: true}); err == nil || !strings.Contains(err.Error(), "align again") {
		t.Errorf("optics of an earlier version: %v", err)
	}
}

// TestStandsByContent: where a photo stands is told against an earlier photo as against the dump, whatever moiré the
// two hold. Half of the trials are light and even, and moiré is strong there.
func TestStandsByContent(t *testing.T) {
	c, o := shared()
	for i := range 12 {
		m := exact(trial(320, 240, uint64(i+100)))
		earlier, err := o.Compare(m, c.Photo(m), Options{})
		if err != nil {
			t.Fatal(err)
		}
		p := c.Photo(m)
		dump, err := o.Compare(m, p, Options{})
		if err != nil {
			t.Fatal(err)
		}
		res, err := o.Compare(earlier.Picture, p, Options{GoldenIsPhoto: true})
		if err != nil || !res.Same {
			t.Errorf("trial %d: %+v, %v", i+100, res, err)
			continue
		}
		if d := math.Hypot(res.Move[0]-dump.Move[0], res.Move[1]-dump.Move[1]); d > 0.3 {
			t.Errorf("trial %d: the photo stands at %.2f against the dump, at %.2f against an earlier photo", i+100, dump.Move, res.Move)
		}
	}
}

// TestTheBenchSaysWhichGolden: its advice follows from what it measured with either kind.
func TestTheBenchSaysWhichGolden(t *testing.T) {
	for want, r := range map[string]Report{"dump": {SeesByDump: 0.1, SeesByPhoto: 0.09}, "photo": {SeesByDump: 0.2, SeesByPhoto: 0.1}} {
		if got := r.Golden(); got != want {
			t.Errorf("%v and %v: %s is recommended", r.SeesByDump, r.SeesByPhoto, got)
		}
		if text := strings.Join(r.Advice(), "\n"); !strings.Contains(text, "golden: a "+want) {
			t.Errorf("%s is not advised:\n%s", want, text)
		}
	}
}
