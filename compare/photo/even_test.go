package photo

import (
	"image"
	"image/color"
	"image/draw"
	"testing"
)

// TestAnEvenScreenIsTheSame: where a screen is even, all that tells where the photo stands is its border and the moiré, which at about
// two photo pixels a panel pixel fits nearly as well in a wrong place. Of these photos 6 of 12 were called different
// before other places were tried. What does differ on such a screen is found.
func TestAnEvenScreenIsTheSame(t *testing.T) {
	c, o := shared()
	for _, level := range []uint8{200, 120} {
		m := image.NewRGBA(image.Rect(0, 0, 320, 240))
		draw.Draw(m, m.Rect, image.NewUniform(color.RGBA{level, level, level, 255}), image.Point{}, draw.Src)
		for range 6 {
			res, err := o.Compare(m, c.Photo(m), Options{})
			if err != nil {
				t.Fatal(err)
			}
			if !res.Same {
				t.Errorf("level %d: different at %v, chance %.2g, %v px from where it was aligned; the rig had moved by %.2f, %.2f",
					level, res.At, res.Chance, res.Move, c.Last.MoveX, c.Last.MoveY)
			}
		}
		word := clone(m)
		fillRect(word, image.Rect(140, 110, 170, 119), color.RGBA{level / 2, level / 2, level / 2, 255})
		res, err := o.Compare(m, c.Photo(word), Options{})
		if err != nil || res.Same || len(res.Regions) == 0 || !res.Regions[0].Rect().Overlaps(image.Rect(140, 110, 170, 119)) {
			t.Errorf("level %d: what was added is not found: %+v, %v", level, res, err)
		}
	}
}
