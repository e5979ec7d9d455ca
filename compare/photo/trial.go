package photo

import (
	"image"
	"image/color"
	"image/draw"
	"math/rand/v2"
)

// Trials is how many screens there are beside the cards. Nothing is fitted to them: they show how
// far predictions are off on screens that had no part in learning, and the threshold rests on that alone. The first of
// them are shown again, for thresholds where the golden is a photo itself.
//
// Made-up screens are not those that are to be judged, so that chances that rest on them are rougher; see independent.
const (
	Trials     = 24
	shownAgain = 12
)

// trial draws a made-up screen of the kind that devices show: a ground of one colour, a bar, rows of
// words, boxes with a caption, a curve. Half of them are dark, and some are nearly empty, because moiré and
// uneven light add up over large even areas.
func trial(width, height int, seed uint64) image.Image {
	r := rand.New(rand.NewPCG(seed, 23))
	m := image.NewRGBA(image.Rect(0, 0, width, height))
	fill := func(b image.Rectangle, c color.RGBA) { draw.Draw(m, b, image.NewUniform(c), image.Point{}, draw.Src) }
	level := func(lo, hi int) uint8 { return uint8(lo + r.IntN(hi-lo)) }
	dark := seed%2 == 0
	ground := color.RGBA{level(190, 256), level(190, 256), level(190, 256), 255}
	ink := color.RGBA{level(0, 90), level(0, 90), level(0, 90), 255}
	if dark {
		ground, ink = ink, ground
	}
	accent := color.RGBA{level(0, 256), level(0, 256), level(0, 256), 255}
	word := func(x, y, n, scale int, c color.RGBA) {
		for range n {
			for j := range 7 {
				stem := r.IntN(5)
				for i := range 5 {
					if i == stem || r.IntN(3) == 0 {
						fill(image.Rect(x+i*scale, y+j*scale, x+(i+1)*scale, y+(j+1)*scale), c)
					}
				}
			}
			x += 6 * scale
		}
	}
	fill(m.Bounds(), ground)
	if seed%3 == 0 { // a sheet that leaves a rim: its long edges run where lenses draw worst
		fill(m.Bounds(), ink)
		fill(m.Bounds().Inset(2+r.IntN(10)), ground)
	}
	unit := max(12, min(width, height)/12)
	fill(image.Rect(0, 0, width, unit), accent)
	word(4, (unit-7)/2, 4+r.IntN(8), 1, color.RGBA{255 - accent.R, 255 - accent.G, 255 - accent.B, 255})
	top := unit + 4
	switch seed % 4 {
	case 0: // rows with a line between
		for y := top; y+unit < height; y += unit + unit/2 {
			word(8, y+3, 3+r.IntN(12), 1, ink)
			word(width-6*8, y+3, 2+r.IntN(5), 1, accent)
			fill(image.Rect(0, y+unit, width, y+unit+1), ink)
		}
	case 1: // boxes with captions
		for y := top; y+3*unit < height; y += 3*unit + 6 {
			for x := 6; x+width/3 < width; x += width/3 + 4 {
				c := color.RGBA{level(0, 256), level(0, 256), level(0, 256), 255}
				b := image.Rect(x, y, x+width/3-6, y+3*unit)
				fill(b, c)
				fill(b.Inset(1+r.IntN(2)), ground)
				if r.IntN(2) == 0 {
					fill(b.Inset(2), c)
				}
				word(x+8, y+unit, 1+r.IntN(5), 1+r.IntN(2), ink)
			}
		}
	case 2: // nearly empty: one large figure
		word(width/4, height/2-unit, 3, 4, ink)
		fill(image.Rect(width/8, height-2*unit, width*7/8, height-unit), accent)
	default: // a curve over a grid
		for x := 20; x < width; x += 40 {
			fill(image.Rect(x, top, x+1, height-8), accent)
		}
		for y := top + 20; y < height; y += 40 {
			fill(image.Rect(8, y, width-8, y+1), accent)
		}
		y := height / 2
		for x := 8; x < width-8; x++ {
			y = min(max(y+r.IntN(5)-2, top), height-12)
			fill(image.Rect(x, y, x+1, y+2), ink)
		}
		word(8, height-10, 12, 1, ink)
	}
	return m
}
