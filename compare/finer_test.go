package compare

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
)

// finerPair is a random screen with a fault that needs more than a few things on a small panel: displacements on panels
// so large that not every one is tried, tones, depths, scales, seams, lines of text, strips along the area flushed last.
func finerPair(seed uint64) saidPair {
	r := rand.New(rand.NewPCG(seed, 78))
	size := image.Pt(12+r.IntN(24), 12+r.IntN(20)) // on few pixels a share is soon at its bound
	switch r.IntN(30) {
	case 0:
		size = image.Pt(130+r.IntN(60), 128+r.IntN(20))
	case 1:
		size = image.Pt(1+r.IntN(14), 1+r.IntN(14))
	case 2, 3:
		size.X = size.Y
	case 4, 5, 6, 7, 8, 9, 10:
		size = image.Pt(30+r.IntN(60), 24+r.IntN(50))
	}
	f := &finer{Rand: r, size: size, two: r.IntN(8) == 0}
	before := f.screen()
	p := saidPair{golden: paint(before, size)}
	p.capture = p.golden
	if r.IntN(2) == 0 {
		p.capture = f.part(&p, before)
	} else {
		p.capture = f.whole(&p)
	}
	if r.IntN(6) == 0 && p.capture.Rect == p.golden.Rect { // and a little besides
		w, h := 1+r.IntN(3), 1+r.IntN(3)
		c, at := f.colour(), image.Pt(r.IntN(size.X), r.IntN(size.Y))
		p.capture = f.pixels(p.capture, func(x, y int, was color.RGBA) color.RGBA {
			if image.Pt(x, y).In(image.Rect(at.X, at.Y, at.X+w, at.Y+h)) {
				return c
			}
			return was
		})
		p.name += "+"
	}
	switch r.IntN(10) {
	case 0:
		p.opt.Ignore = []image.Rectangle{f.area(), f.area()}
		p.name += "i"
	case 1:
		p.opt.Tolerances = []Tolerance{{ColourBelow: float64(r.IntN(20)), Area: f.area()}, {SmallerThan: r.IntN(60)}, {EdgesOnly: true, Area: f.area()}}[r.IntN(3):]
		p.name += "l"
	}
	return p
}

type finer struct {
	*rand.Rand
	size image.Point
	two  bool // colours alone: a black and a grey
}

func (f *finer) colour() color.RGBA {
	if f.two {
		v := byte(f.IntN(2) * (100 + f.size.X))
		return color.RGBA{v, v, v, 255}
	}
	c := func() byte { return byte(f.IntN(18) * 15) }
	return color.RGBA{c(), c(), c(), 255}
}

func (f *finer) area() image.Rectangle {
	x, y := f.IntN(f.size.X), f.IntN(f.size.Y)
	return image.Rect(x, y, x+1+f.IntN(f.size.X), y+1+f.IntN(f.size.Y)).Intersect(image.Rectangle{Max: f.size})
}

func (f *finer) screen() []thing {
	list := []thing{{r: image.Rectangle{Max: f.size}, c: f.colour(), kind: []int{0, 0, 4}[f.IntN(3)]}}
	n := 1 + f.size.X*f.size.Y/700 + f.IntN(4)
	for range n {
		w, h := 3+f.IntN(max(2, min(50, f.size.X/2))), 3+f.IntN(max(2, min(30, f.size.Y/2)))
		x, y := f.IntN(f.size.X+4)-2, f.IntN(f.size.Y+4)-2
		list = append(list, thing{[]int{0, 1, 2, 3, 3, 4}[f.IntN(6)], image.Rect(x, y, x+w, y+h), f.colour(), f.Uint64(), f.IntN(2) == 0})
	}
	return list
}

func (f *finer) pixels(m *image.RGBA, each func(x, y int, was color.RGBA) color.RGBA) *image.RGBA {
	out := image.NewRGBA(m.Rect)
	for y := range m.Rect.Dy() {
		for x := range m.Rect.Dx() {
			out.SetRGBA(x, y, each(x, y, m.RGBAAt(x, y)))
		}
	}
	return out
}

func (f *finer) levels(m *image.RGBA, to func(v float64) float64) *image.RGBA {
	level := func(v byte) byte { return byte(math.Max(0, math.Min(255, math.Round(to(float64(v)))))) }
	return f.pixels(m, func(_, _ int, c color.RGBA) color.RGBA {
		return color.RGBA{level(c.R), level(c.G), level(c.B), 255}
	})
}

// part is a change of one or two things.
func (f *finer) part(p *saidPair, before []thing) *image.RGBA {
	after := append([]thing(nil), before...)
	for range 1 + f.IntN(2) {
		e := &after[1+f.IntN(len(after)-1)]
		what := f.IntN(8)
		p.name += string(rune('a' + what))
		switch what {
		case 0: // a line of text one glyph longer, or another text
			e.kind = 3
			e.r.Max.X += f.IntN(11) - 5
		case 1: // an end grows, or both do
			d := f.IntN(13) - 6
			switch f.IntN(5) {
			case 0:
				e.r.Max.X += d
			case 1:
				e.r.Min.X += d
			case 2:
				e.r.Max.Y += d
			case 3:
				e.r.Min.Y += d
			case 4:
				e.r = e.r.Inset(-d)
			}
		case 2: // one colour becomes another wherever it stands
			was, now := e.c, f.colour()
			for k := range after[1:] {
				if after[1+k].c == was || f.IntN(4) == 0 {
					after[1+k].c = now
				}
			}
		case 3: // two things change places
			o := &after[1+f.IntN(len(after)-1)]
			e.r, o.r = e.r.Add(o.r.Min.Sub(e.r.Min)), o.r.Add(e.r.Min.Sub(o.r.Min))
		case 4:
			e.r = e.r.Add(image.Pt(f.IntN(41)-20, f.IntN(31)-15))
		case 5:
			e.smooth = !e.smooth
			e.c.B += byte(f.IntN(7) - 3)
		case 6: // a thing and what lies on it
			d := image.Pt(f.IntN(13)-6, f.IntN(13)-6)
			in := e.r
			for k := range after[1:] {
				if o := &after[1+k]; o.r.In(in) {
					o.r = o.r.Add(d)
				}
			}
		case 7:
			after = append(after, thing{f.IntN(5), f.area(), f.colour(), f.Uint64(), true})
		}
	}
	m := paint(after, f.size)
	switch f.IntN(6) {
	case 0:
		f.flush(p, m)
	case 1: // the change was due, and part of the panel shows the look before
		prev := p.golden
		p.golden, p.opt.Previous = m, prev
		a := f.area()
		m = f.pixels(m, func(x, y int, c color.RGBA) color.RGBA {
			if image.Pt(x, y).In(a) {
				return prev.RGBAAt(x, y)
			}
			return c
		})
		if f.IntN(3) > 0 {
			p.opt.PreviousGolden = prev
		}
		p.name += "s"
	case 2:
		p.opt.Parts = true
		p.name += "o"
	}
	return m
}

// flush spoils a redraw as short or wrong areas do: a strip along an edge, a line, noise.
func (f *finer) flush(p *saidPair, m *image.RGBA) {
	a := f.area()
	p.flushed, p.name = &a, p.name+"f"
	strip := a
	t, off := 1+f.IntN(5), f.IntN(5)-2
	switch f.IntN(4) {
	case 0:
		strip.Min.X, strip.Max.X = a.Min.X+off, a.Min.X+off+t
	case 1:
		strip.Min.X, strip.Max.X = a.Max.X+off-t, a.Max.X+off
	case 2:
		strip.Min.Y, strip.Max.Y = a.Min.Y+off, a.Min.Y+off+t
	case 3:
		strip.Min.Y, strip.Max.Y = a.Max.Y+off-t, a.Max.Y+off
	}
	c, noise := f.colour(), f.IntN(4) == 0
	copy(m.Pix, p.golden.Pix)
	for y := a.Min.Y - 3; y < a.Max.Y+3; y++ {
		for x := a.Min.X - 3; x < a.Max.X+3; x++ {
			at := image.Pt(x, y)
			switch {
			case noise && at.In(a.Inset(1)):
				m.SetRGBA(x, y, f.colour())
			case !noise && at.In(strip) && at.In(m.Rect):
				m.SetRGBA(x, y, c)
			}
		}
	}
}
