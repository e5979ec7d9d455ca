package pairs

import (
	"fmt"
	"image"
	"image/color"
)

// screenSpec is a screen as a list of widgets over a ground.
type screenSpec struct {
	name     string
	w, h     int
	depth    string // "rgb565", "rgb888", "mono"
	top, bot color.RGBA
	elems    []element
	fonts    faces
}

var words = []string{"Start", "Stop", "Menu", "Back", "Level", "Zone 1", "Zone 2", "Humidity", "Manual run", "Schedule", "21.4", "68 %",
	"12:30", "08:05", "Alarm", "Pairing code", "Sensor north", "Sensor south", "Über", "Größe", "Next", "OK", "Cancel", "Auto", "Off", "On",
	"Language", "About", "Version 1.2", "Water low", "Valve", "Fan", "Bed lamp", "Search", "Ready", "3 days", "Settings", "Mist", "Évent", "1013"}

type theme struct {
	top, bot, card, fg, dim, accent, second color.RGBA
}

func rgb(r, g, b uint8) color.RGBA { return color.RGBA{r, g, b, 255} }

// themes are in two halves: the first half is for tuning, the second judged.
var themes = [2][]theme{
	{
		{rgb(18, 22, 28), rgb(18, 22, 28), rgb(38, 46, 56), rgb(235, 238, 240), rgb(130, 140, 150), rgb(0, 170, 140), rgb(250, 170, 40)},
		{rgb(244, 246, 248), rgb(244, 246, 248), rgb(255, 255, 255), rgb(30, 34, 40), rgb(150, 156, 162), rgb(30, 110, 220), rgb(220, 60, 60)},
		{rgb(10, 30, 60), rgb(40, 80, 110), rgb(20, 50, 90), rgb(240, 250, 255), rgb(140, 170, 200), rgb(250, 200, 60), rgb(120, 220, 140)},
		{rgb(0, 0, 0), rgb(0, 0, 0), rgb(24, 24, 24), rgb(255, 255, 255), rgb(120, 120, 120), rgb(255, 90, 0), rgb(0, 160, 255)},
	},
	{
		{rgb(30, 26, 36), rgb(30, 26, 36), rgb(52, 46, 62), rgb(244, 240, 250), rgb(150, 140, 165), rgb(190, 120, 250), rgb(90, 200, 170)},
		{rgb(236, 230, 218), rgb(236, 230, 218), rgb(250, 246, 238), rgb(60, 46, 34), rgb(160, 146, 130), rgb(180, 80, 40), rgb(80, 120, 60)},
		{rgb(200, 225, 240), rgb(240, 245, 250), rgb(255, 255, 255), rgb(20, 40, 70), rgb(120, 140, 165), rgb(10, 130, 190), rgb(240, 120, 90)},
		{rgb(0, 20, 0), rgb(0, 20, 0), rgb(0, 44, 10), rgb(90, 255, 120), rgb(40, 130, 60), rgb(230, 255, 90), rgb(255, 120, 90)},
	},
}

var panelSizes = []image.Point{{128, 64}, {128, 160}, {240, 240}, {240, 320}, {320, 240}, {320, 240}, {320, 240}, {480, 320}, {800, 480}}

// layout lays out a screen.
func (s *Source) layout() *screenSpec {
	r := s.rng
	size := panelSizes[r.IntN(len(panelSizes))]
	if r.IntN(3) == 0 {
		size = panelSizes[4]
	}
	sc := &screenSpec{w: size.X, h: size.Y, fonts: s.fonts, depth: "rgb565"}
	if r.IntN(5) == 0 {
		sc.depth = "rgb888"
	}
	if size.X == 128 && size.Y == 64 {
		sc.depth = "mono"
		s.mono(sc)
	} else {
		s.colour(sc)
	}
	sc.name = fmt.Sprintf("%dx%d %s", sc.w, sc.h, sc.depth)
	return sc
}

// mono lays out a 128x64 panel of two colours.
func (s *Source) mono(sc *screenSpec) {
	r := s.rng
	on, off := rgb(255, 255, 255), rgb(0, 0, 0)
	if r.IntN(4) == 0 {
		on, off = off, on
	}
	sc.top, sc.bot = off, off
	line := func(x, y int, fg color.RGBA) element {
		return element{kind: "label", x: x, y: y, text: words[r.IntN(len(words))], face: -1, size: 13, fg: fg, edge: edgeHard}
	}
	if r.IntN(2) == 0 {
		sc.elems = append(sc.elems, element{kind: "box", x: 0, y: 0, w: 128, h: 15, bg: on, edge: edgeHard, fixed: true}, line(2, 0, off))
	} else {
		sc.elems = append(sc.elems, line(2, 0, on))
	}
	for i := range 2 {
		sc.elems = append(sc.elems, line(2+r.IntN(20), 16+15*i, on))
	}
	sc.elems = append(sc.elems,
		element{kind: "icon", x: 106, y: 18, w: 20, h: 20, fg: on, bg: off, seed: r.Uint64(), edge: edgeHard},
		element{kind: "bar", x: 4, y: 52, w: 90 + r.IntN(30), h: 8, fg: on, bg: off, value: 0.2 + 0.6*r.Float64(), edge: edgeHard})
}

// colour lays out a status line and cards with widgets in a grid.
func (s *Source) colour(sc *screenSpec) {
	r := s.rng
	t := themes[s.half][r.IntN(len(themes[s.half]))]
	sc.top, sc.bot = t.top, t.bot
	unit := max(12, min(sc.w, sc.h)/16) // text height
	add := func(e element) { sc.elems = append(sc.elems, e) }
	face := r.IntN(len(fontData))
	text := func(x, y, size int, fg color.RGBA) element {
		return element{kind: "label", x: x, y: y, text: words[r.IntN(len(words))], face: face, size: size, fg: fg}
	}
	head := unit + 8
	if r.IntN(2) == 0 {
		add(element{kind: "box", x: -8, y: -8, w: sc.w + 16, h: head + 8, bg: t.card, fixed: true})
	}
	add(text(6, 3, unit, t.fg))
	add(element{kind: "icon", x: sc.w - unit - 6, y: 4, w: unit, h: unit, fg: t.accent, bg: t.dim, seed: r.Uint64()})
	cols := 1 + r.IntN(max(1, sc.w/120))
	rows := max(1, (sc.h-head)/(unit*3+r.IntN(unit)))
	cw, ch := sc.w/cols, (sc.h-head)/rows
	for j := range rows {
		for i := range cols {
			if r.IntN(8) == 0 {
				continue
			}
			x, y, w, h := i*cw+4, head+j*ch+4, cw-8, ch-8
			ground := t.bot
			if r.IntN(3) > 0 {
				add(element{kind: "box", x: x, y: y, w: w, h: h, bg: t.card, fixed: true})
				ground = t.card
			}
			s.cell(add, text, t, ground, x+6, y+4, w-12, h-8, unit)
		}
	}
}

// cell fills one cell of the grid.
func (s *Source) cell(add func(element), text func(x, y, size int, fg color.RGBA) element, t theme, ground color.RGBA, x, y, w, h, unit int) {
	r := s.rng
	accent := t.accent
	if r.IntN(3) == 0 {
		accent = t.second
	}
	switch r.IntN(7) {
	case 0:
		add(text(x, y, unit, t.fg))
		add(element{kind: "bar", x: x, y: y + h - 8, w: w, h: 8, fg: accent, bg: t.dim, value: 0.15 + 0.7*r.Float64()})
	case 1:
		add(element{kind: "icon", x: x, y: y, w: min(h, unit*2), h: min(h, unit*2), fg: accent, bg: t.dim, seed: r.Uint64()})
		add(text(x+min(h, unit*2)+8, y+2, unit, t.fg))
	case 2:
		e := text(x, y, unit, t.fg)
		e.kind, e.w, e.h, e.bg, e.fg = "button", max(w*2/3, unit*5), min(h, unit+10), accent, ground
		add(e)
	case 3:
		add(text(x, y, min(unit*2, h-2), accent))
	case 4:
		add(text(x, y, unit, t.dim))
		add(element{kind: "slider", x: x, y: y + h - unit, w: w, h: unit, fg: accent, bg: t.dim, value: r.Float64()})
	case 5:
		add(text(x, y, unit, t.fg))
		add(element{kind: "toggle", x: x + w - unit*2, y: y, w: unit * 2, h: unit, fg: t.fg, bg: accent, value: float64(r.IntN(2))})
	case 6:
		if h > 30 && w > 60 && r.IntN(2) == 0 {
			add(element{kind: "plot", x: x, y: y + 2, w: w, h: h - 4, fg: accent, seed: r.Uint64()})
		} else {
			d := min(w, h)
			add(element{kind: "gauge", x: x, y: y, w: d, h: d, fg: accent, bg: t.dim, value: 0.2 + 0.6*r.Float64()})
		}
	}
}

// draw renders the screen at its depth.
func (sc *screenSpec) draw() *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, sc.w, sc.h))
	for y := range sc.h {
		f := float64(y) / float64(sc.h)
		c := mix(sc.top, sc.bot, f)
		for x := range sc.w {
			m.SetRGBA(x, y, c)
		}
	}
	for _, e := range sc.elems {
		sc.put(m, e)
	}
	sc.quantise(m)
	return m
}

func (sc *screenSpec) put(m *image.RGBA, e element) {
	for _, l := range layersOf(sc.fonts, e) {
		b := l.box.Intersect(m.Rect)
		for y := b.Min.Y; y < b.Max.Y; y++ {
			for x := b.Min.X; x < b.Max.X; x++ {
				c := l.cov(x, y)
				if sc.depth == "mono" && c < 0.5 || c <= 0 {
					continue
				}
				if sc.depth == "mono" {
					c = 1
				}
				m.SetRGBA(x, y, mix(m.RGBAAt(x, y), l.col, c))
			}
		}
	}
}

func mix(a, b color.RGBA, f float64) color.RGBA {
	u := func(p, q uint8) uint8 { return uint8(float64(p) + f*(float64(q)-float64(p)) + 0.5) }
	return color.RGBA{u(a.R, b.R), u(a.G, b.G), u(a.B, b.B), 255}
}

// quantise brings the picture to what a panel of the depth can show.
func (sc *screenSpec) quantise(m *image.RGBA) {
	if sc.depth == "rgb565" {
		to565(m)
	}
}

func to565(m *image.RGBA) {
	for i := 0; i < len(m.Pix); i += 4 {
		m.Pix[i] = m.Pix[i]>>3<<3 | m.Pix[i]>>5
		m.Pix[i+1] = m.Pix[i+1]>>2<<2 | m.Pix[i+1]>>6
		m.Pix[i+2] = m.Pix[i+2]>>3<<3 | m.Pix[i+2]>>5
	}
}
