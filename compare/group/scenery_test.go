package group

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math/rand/v2"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gomedium"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// What follows draws the screens of an invented device, with changes that can be switched on one by one, so
// that it is known of each pixel which change altered it. Letters are those of the Go project, rasterised by
// golang.org/x/image with and without hinting: another drawing of text that nobody here wrote.

// The changes that a set of looks may have. Those from clip on are defects.
const (
	accent   = iota // the accent has another colour
	header          // and so has the header bar
	labels          // text of buttons stands 1 px lower
	titles          // the title stands 3 px further right
	steps           // rows of a list are 1 px further apart
	hinting         // text is drawn without hinting
	shading         // gradients are a step darker
	battery         // the battery is drawn in another shape
	clip            // labels of rows are cut short
	unfilled        // a badge has lost its fill
	boxed           // a caption stands on a black box
	lost            // an icon is not drawn
	strip           // the last row of a partial refresh keeps its old pixels
	torn            // the picture is torn
	allChanges
)

func defect(change int) bool { return change >= clip }

var (
	sceneW, sceneH = 320, 240
	faceOf         = map[string]font.Face{}
	faceMu         sync.Mutex // faces are drawn with by one at a time, too
)

// face gives a face by its name; faceMu must be held.
func face(name string, size float64, hinted bool) font.Face {
	key := fmt.Sprint(name, size, hinted)
	if f := faceOf[key]; f != nil {
		return f
	}
	data := goregular.TTF
	if name == "medium" {
		data = gomedium.TTF
	}
	parsed, err := opentype.Parse(data)
	if err != nil {
		panic(err)
	}
	h := font.HintingNone
	if hinted {
		h = font.HintingFull
	}
	f, err := opentype.NewFace(parsed, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: h})
	if err != nil {
		panic(err)
	}
	faceOf[key] = f
	return f
}

// A stage is a look to be drawn: what it shows was drawn from a seed.
type stage struct {
	kind   int
	seed   uint64
	bad    [allChanges]bool // which defects it would have
	walk   int
	second bool // shown by a partial refresh after the look before
}

var words = []string{"Brightness", "Volume", "Sensor", "North bench", "Schedule", "Language", "About", "Network", "Frost guard", "Humidity", "Valve", "Pump", "Night mode",
	"Calibrate", "Water level", "Propagator", "Update", "Sound", "Display", "Reset"}

// painter draws with the changes that are on.
type painter struct {
	m  *image.RGBA
	on [allChanges]bool
}

func (p *painter) fill(r image.Rectangle, c color.RGBA) {
	draw.Draw(p.m, r, image.NewUniform(c), image.Point{}, draw.Src)
}

func (p *painter) text(x, y int, s, name string, size float64, c color.RGBA) int {
	faceMu.Lock()
	defer faceMu.Unlock()
	d := font.Drawer{Dst: p.m, Src: image.NewUniform(c), Face: face(name, size, !p.on[hinting]), Dot: fixed.P(x, y)}
	d.DrawString(s)
	// What follows must not move when hinting changes the width.
	return x + int(size)*len(s)/2
}

var (
	paper    = color.RGBA{0xf4, 0xf1, 0xe8, 0xff}
	ink      = color.RGBA{0x20, 0x28, 0x2c, 0xff}
	stone    = color.RGBA{0x70, 0x78, 0x70, 0xff}
	card     = color.RGBA{0xff, 0xfd, 0xf8, 0xff}
	hairline = color.RGBA{0xd8, 0xd2, 0xc4, 0xff}
	mist     = color.RGBA{0x28, 0x70, 0x98, 0xff}
)

func (p *painter) accent() color.RGBA {
	if p.on[accent] {
		return color.RGBA{0xd0, 0x60, 0x88, 0xff}
	}
	return color.RGBA{0xe8, 0xa0, 0x38, 0xff}
}

func (p *painter) head() color.RGBA {
	if p.on[header] {
		return color.RGBA{0x28, 0x38, 0x60, 0xff}
	}
	return color.RGBA{0x20, 0x58, 0x48, 0xff}
}

func (p *painter) button(r image.Rectangle, s string) {
	p.fill(r, p.accent())
	dy := 0
	if p.on[labels] {
		dy = 1
	}
	p.text(r.Min.X+10, r.Min.Y+r.Dy()/2+5+dy, s, "medium", 14, ink)
}

func (p *painter) disc(cx, cy, r int, c color.RGBA) {
	for y := -r; y <= r; y++ {
		for x := -r; x <= r; x++ {
			if x*x+y*y <= r*r {
				p.m.SetRGBA(cx+x, cy+y, c)
			}
		}
	}
}

// paint draws a look with changes; defects only where the look would have them.
func (s *stage) paint(on [allChanges]bool) *image.RGBA {
	for c := clip; c < allChanges; c++ {
		on[c] = on[c] && s.bad[c]
	}
	p := &painter{m: image.NewRGBA(image.Rect(0, 0, sceneW, sceneH)), on: on}
	rng := rand.New(rand.NewPCG(s.seed, 7))
	word := func() string { return words[rng.IntN(len(words))] }
	p.fill(p.m.Bounds(), paper)
	p.fill(image.Rect(0, 0, sceneW, 32), p.head())
	x := 12
	if on[titles] {
		x += 3
	}
	p.text(x, 21, word(), "medium", 16, card)
	p.fill(image.Rect(290, 10, 310, 22), card) // the battery
	if on[battery] {
		p.fill(image.Rect(292, 12, 304, 20), p.head())
		p.fill(image.Rect(310, 13, 312, 19), card)
	} else {
		p.fill(image.Rect(292, 12, 308, 20), mist)
	}
	switch s.kind {
	case 0: // a list
		pitch := 32
		if on[steps] {
			pitch = 33
		}
		for k := range 4 + rng.IntN(2) {
			y := 44 + k*pitch
			label := word() + " " + word()
			end := p.text(40, y+16, label, "regular", 14, ink)
			if on[clip] && k == 1 {
				p.fill(image.Rect(end-38, y, 236, y+22), paper)
			}
			p.text(250, y+16, fmt.Sprint(10+rng.IntN(90)), "regular", 14, stone)
			if !(on[lost] && k == 2) {
				p.disc(22, y+11, 7, mist)
				p.fill(image.Rect(20, y+4, 24, y+18), card)
			}
			p.fill(image.Rect(12, y+25, 308, y+26), hairline)
		}
	case 1: // a question with buttons
		p.fill(image.Rect(24, 52, 296, 150), card)
		if on[boxed] {
			p.fill(image.Rect(38, 66, 180, 90), color.RGBA{0, 0, 0, 255})
		}
		p.text(40, 82, word()+" now?", "medium", 18, ink)
		p.text(40, 110, "The "+word()+" is not ready.", "regular", 13, stone)
		if s.seed%3 == 0 {
			if on[unfilled] {
				p.fill(image.Rect(226, 116, 286, 140), card)
			} else {
				p.fill(image.Rect(226, 116, 286, 140), mist)
			}
			p.text(234, 133, "New", "regular", 14, ink)
		}
		p.button(image.Rect(24, 176, 150, 214), word())
		p.button(image.Rect(170, 176, 296, 214), word())
	case 2: // gauges with gradients
		for k := range 2 {
			r := image.Rect(16+150*k, 48, 154+150*k, 150)
			for y := r.Min.Y; y < r.Max.Y; y++ {
				v := uint8(0xf8 - (y-r.Min.Y)/8*8)
				if on[shading] {
					v -= 8
				}
				p.fill(image.Rect(r.Min.X, y, r.Max.X, y+1), color.RGBA{v, v, 0xf8, 255})
			}
			p.text(r.Min.X+12, 100, fmt.Sprintf("%d.%d", 10+rng.IntN(80), rng.IntN(10)), "medium", 34, ink)
			p.text(r.Min.X+12, 140, word(), "regular", 13, ink)
		}
		p.disc(40, 196, 14, mist)
		p.fill(image.Rect(36, 190, 44, 202), paper)
		p.button(image.Rect(180, 176, 296, 214), word())
	case 3: // a slider and a switch
		p.text(24, 70, word(), "regular", 15, ink)
		p.fill(image.Rect(24, 84, 296, 92), hairline)
		at := 40 + rng.IntN(230)
		p.fill(image.Rect(24, 84, at, 92), p.accent())
		p.fill(image.Rect(at-5, 78, at+5, 98), ink)
		p.text(24, 134, word()+" "+word(), "regular", 15, ink)
		p.fill(image.Rect(250, 120, 290, 138), p.accent())
		p.fill(image.Rect(272, 122, 288, 136), card)
		p.button(image.Rect(24, 176, 150, 214), word())
	}
	for i := 0; i < len(p.m.Pix); i += 4 { // RGB565
		q := p.m.Pix[i : i+3]
		q[0], q[1], q[2] = q[0]>>3<<3|q[0]>>5, q[1]>>2<<2|q[1]>>6, q[2]>>3<<3|q[2]>>5
	}
	return p.m
}
