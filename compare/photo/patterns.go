package photo

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math/rand/v2"
	"strings"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// A Pattern is a picture that the panel shows while the bench measures itself.
type Pattern struct {
	Name  string // of its file, without suffix; sorts in order
	Image image.Image
	Own   bool // it is a screen of the device's own
}

// Kind is what a pattern is for, as its name has it after its number: "white", "black", "quarters", "grid", "tones", "card", "trial",
// "again" for a trial's second time; "" where the name is none of Patterns.
func (p Pattern) Kind() string {
	_, rest, _ := strings.Cut(p.Name, "-")
	kind, _, _ := strings.Cut(rest, "-")
	return kind
}

// cards is how many random screens there are. They teach point spread, colour mixing, moiré and noise.
const cards = 12

// Patterns are all patterns of a panel, in the order they are shown. Screens that the device itself shows, such as goldens, take
// the place of as many made-up trials; more than Trials of them are of no use. They have the panel's size.
func Patterns(width, height int, own ...image.Image) []Pattern {
	try := func(name string, i int) Pattern {
		p := Pattern{Name: fmt.Sprintf("%s-%d", name, i+1)}
		if p.Own = i < len(own); p.Own {
			p.Image = own[i]
		} else {
			p.Image = trial(width, height, uint64(i+1))
		}
		return p
	}
	g := rectify.NewGrid(width, height)
	white, black := plain(width, height, color.White), plain(width, height, color.Black)
	ps := []Pattern{
		{Name: "white", Image: white}, {Name: "black", Image: black}, {Name: "quarters", Image: rectify.Quarters(width, height)},
		{Name: "grid", Image: g.Image(false)}, {Name: "grid-inverse", Image: g.Image(true)},
		{Name: "tones-1", Image: tones(width, height, 1)}, {Name: "tones-2", Image: tones(width, height, 2)},
	}
	for i := range cards {
		ps = append(ps, Pattern{Name: fmt.Sprintf("card-%d", i+1), Image: card(width, height, uint64(i+1), i%2 == 1)})
		for j := i * Trials / cards; j < (i+1)*Trials/cards; j++ {
			ps = append(ps, try("trial", j))
		}
		if i == cards/2 {
			ps = append(ps, Pattern{Name: "white-again", Image: white}, Pattern{Name: "black-again", Image: black})
		}
	}
	for i := range shownAgain {
		ps = append(ps, try("again", i))
	}
	ps = append(ps, Pattern{Name: "white-last", Image: white})
	for i := range ps {
		ps[i].Name = fmt.Sprintf("%02d-%s", i+1, ps[i].Name)
		ps[i].Image = exact(ps[i].Image)
	}
	return ps
}

// level16 is the level nearest to v that a channel of RGB565 has, as a byte. Patterns keep to those, so that
// panels of 16 bits and more show them to the bit.
func level16(ch int, v uint8) uint8 {
	if ch == 1 {
		q := (int(v)*63 + 127) / 255
		return uint8(q<<2 | q>>4)
	}
	q := (int(v)*31 + 127) / 255
	return uint8(q<<3 | q>>2)
}

// exact brings a picture to the colours of RGB565.
func exact(m image.Image) image.Image {
	b := m.Bounds()
	out := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	draw.Draw(out, out.Rect, m, b.Min, draw.Src)
	for i, v := range out.Pix {
		if i%4 < 3 {
			out.Pix[i] = level16(i%4, v)
		}
	}
	return out
}

func plain(width, height int, c color.Color) image.Image {
	m := image.NewRGBA(image.Rect(0, 0, width, height))
	draw.Draw(m, m.Bounds(), image.NewUniform(c), image.Point{}, draw.Src)
	return m
}

// A patch of the tone chart is one colour, or a share of white pixels among black ones.
type patch struct {
	c    color.RGBA
	duty int // in quarters; 0: one colour
}

// tonePatches are what the chart shows: white, black and half-tones several times, since all else
// is measured against them.
func tonePatches() (out []patch) {
	for range 3 {
		out = append(out, patch{c: color.RGBA{255, 255, 255, 255}}, patch{c: color.RGBA{0, 0, 0, 255}})
		for duty := 1; duty <= 3; duty++ {
			out = append(out, patch{duty: duty})
		}
	}
	for _, v := range toneSteps {
		for ch := range 3 {
			c := [3]uint8{}
			c[ch] = level16(ch, v)
			out = append(out, patch{c: color.RGBA{c[0], c[1], c[2], 255}})
		}
	}
	for _, v := range []uint8{64, 128, 192} {
		out = append(out, patch{c: color.RGBA{v, v, v, 255}})
	}
	return out
}

// toneSteps are the levels at which each primary is measured.
var toneSteps = []uint8{24, 48, 80, 112, 144, 176, 208, 232, 255}

// toneLayout says which patch stands in which cell of a chart, and the side of a cell.
func toneLayout(width, height, n int) (cells []image.Rectangle, which []int) {
	side := max(8, min(width, height)/12)
	rnd := rand.New(rand.NewPCG(uint64(n), 5))
	count := len(tonePatches())
	var order []int
	for y := 0; y+side <= height; y += side {
		for x := 0; x+side <= width; x += side {
			if len(order) == 0 {
				order = rnd.Perm(count)
			}
			cells, which = append(cells, image.Rect(x, y, x+side, y+side)), append(which, order[0])
			order = order[1:]
		}
	}
	return cells, which
}

func tones(width, height, n int) image.Image {
	m := plain(width, height, color.Black).(*image.RGBA)
	cells, which := toneLayout(width, height, n)
	all := tonePatches()
	for i, r := range cells {
		p := all[which[i]]
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				c := p.c
				if p.duty > 0 {
					c = color.RGBA{A: 255}
					// The order of a 2x2 dither: opposite corners first.
					if [2][2]int{{0, 2}, {3, 1}}[y&1][x&1] < p.duty {
						c = color.RGBA{255, 255, 255, 255}
					}
				}
				m.SetRGBA(x, y, c)
			}
		}
	}
	return m
}

// card draws a made-up screen: panels, lines, words of made-up glyphs, gradients and a little
// colour noise, so that all that screens hold is seen through the bench's optics. A calm card is mostly
// one colour, as screens are: moiré adds up over large even areas, and that has to be learnt too.
func card(width, height int, seed uint64, calm bool) image.Image {
	r := rand.New(rand.NewPCG(seed, 11))
	m := image.NewRGBA(image.Rect(0, 0, width, height))
	colour := func() color.RGBA {
		lo, hi := 0, 256
		switch r.IntN(3) {
		case 0:
			hi = 70
		case 1:
			lo = 170
		}
		grey := lo + r.IntN(hi-lo)
		c := [3]uint8{}
		for i := range c {
			c[i] = uint8(grey)
			if r.IntN(3) > 0 {
				c[i] = uint8(lo + r.IntN(hi-lo))
			}
		}
		return color.RGBA{c[0], c[1], c[2], 255}
	}
	fill := func(b image.Rectangle, c color.RGBA) { draw.Draw(m, b, image.NewUniform(c), image.Point{}, draw.Src) }
	box := func(w, h int) image.Rectangle {
		x, y := r.IntN(max(1, width-w)), r.IntN(max(1, height-h))
		return image.Rect(x, y, x+w, y+h)
	}
	fill(m.Bounds(), colour())
	area := width * height
	if calm {
		light := uint8(150 + r.IntN(106))
		fill(m.Bounds(), color.RGBA{light, light - uint8(r.IntN(30)), light - uint8(r.IntN(30)), 255})
		for range 2 {
			fill(box(width/4+r.IntN(width/2), height/6+r.IntN(height/4)), colour())
		}
		area /= 5
	}
	for range area / 8000 {
		fill(box(20+r.IntN(width/2), 8+r.IntN(height/3)), colour())
	}
	for range area / 30000 { // gradients
		b, c, d := box(width/4, height/6), colour(), colour()
		for x := b.Min.X; x < b.Max.X; x++ {
			t := float64(x-b.Min.X) / float64(b.Dx())
			l := func(p, q uint8) uint8 { return uint8(float64(p)*(1-t) + float64(q)*t) }
			fill(image.Rect(x, b.Min.Y, x+1, b.Max.Y), color.RGBA{l(c.R, d.R), l(c.G, d.G), l(c.B, d.B), 255})
		}
	}
	for range area / 1500 { // words
		scale := 1 + r.IntN(10)/7 + r.IntN(12)/11
		x, y, c := r.IntN(width), r.IntN(height), colour()
		for range 2 + r.IntN(7) {
			for j := range 8 {
				run := r.IntN(6)
				for i := range 5 {
					if i == run || r.IntN(3) == 0 {
						fill(image.Rect(x+i*scale, y+j*scale, x+(i+1)*scale, y+(j+1)*scale), c)
					}
				}
			}
			x += 6 * scale
		}
	}
	for range area / 6000 { // lines
		b := box(10+r.IntN(width/2), 1+r.IntN(2))
		if r.IntN(2) == 0 {
			b = box(1+r.IntN(2), 10+r.IntN(height/2))
		}
		fill(b, colour())
	}
	if calm {
		return m
	}
	b := box(width/5, height/5)
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			m.SetRGBA(x, y, color.RGBA{uint8(r.IntN(2) * 255), uint8(r.IntN(2) * 255), uint8(r.IntN(2) * 255), 255})
		}
	}
	return m
}
