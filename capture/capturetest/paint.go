package capturetest

import (
	"image/color"

	"github.com/fascia-bench/fascia/capture"
)

// A painter follows the rules of agent/test/pipe_device.c.
type painter struct {
	f *capture.Frame
	g capture.Grid
	s uint32
}

func (p *painter) rnd() uint32 {
	p.s ^= p.s << 13
	p.s ^= p.s >> 17
	p.s ^= p.s << 5
	return p.s
}

func (p *painter) area(x0, y0, w, h uint32) {
	kind, a, b := p.rnd()%4, p.rnd(), p.rnd()
	for y := y0; y < min(y0+h, uint32(p.g.Rows)); y++ {
		for x := x0; x < min(x0+w, uint32(p.g.Cells)); x++ {
			v := a
			switch {
			case kind == 1:
				v = a + x
			case kind == 2:
				v = p.rnd()
			case kind == 3 && (x/3+y/5)%2 == 0:
				v = b
			}
			for k := range min(p.g.CellBytes, 3) { // the fourth byte of xrgb8888 is not sent
				p.f.Pix[(int(y)*p.g.Cells+int(x))*p.g.CellBytes+k] = byte(v >> (8 * k))
			}
		}
	}
}

func newPainter(f *capture.Frame, seed uint32) *painter {
	return &painter{f, f.Format.Grid(f.Width, f.Height), seed*2654435761 | 1}
}

// Paint draws what the fake device draws when it is fed paint=seed.
func Paint(f *capture.Frame, seed uint32) {
	p := newPainter(f, seed)
	cells, rows := uint32(p.g.Cells), uint32(p.g.Rows)
	p.area(0, 0, cells, rows)
	for range 12 {
		x, y, w := p.rnd()%cells, p.rnd()%rows, p.rnd()%cells+1
		p.area(x, y, w, p.rnd()%rows+1)
	}
}

// PaintArea draws what the fake device draws when it is fed area=seed,x,y,w,h (in cells).
func PaintArea(f *capture.Frame, seed uint32, x, y, w, h int) {
	newPainter(f, seed).area(uint32(x), uint32(y), uint32(w), uint32(h))
}

// NewFrame returns the device's panel as it is after boot, with its palette.
func (p Panel) NewFrame() *capture.Frame {
	f := capture.NewFrame(p.Width, p.Height, p.Format)
	for i := range p.Colours {
		f.Palette = append(f.Palette, color.RGBA{byte(i * 7), byte(255 - i), byte(i ^ 0x55), 255})
	}
	return f
}
