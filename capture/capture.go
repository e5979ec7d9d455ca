// Package capture turns what a panel shows into an image in panel coordinates.
//
// A Frame is a dump: the bytes of the device's framebuffer in the device's own pixel
// format, exact. Pixel (0, 0) is the top left of the panel as its user sees it. A frame
// that cannot be trusted is an error of whoever fetched it, never a guess: see package
// capture/link for how one is fetched, capture/camera for photos, which are not exact.
package capture

import (
	"fmt"
	"image"
	"image/color"
)

// A Frame is what a panel of Width x Height pixels showed at one moment.
//
// Pix holds the rows of Format.Grid without gaps, Cells x CellBytes each; with MonoPages a row
// is a page of eight pixel rows. Palette is used by Palette8 alone.
type Frame struct {
	Width, Height int
	Format        Format
	Pix           []byte
	Palette       []color.RGBA
}

// NewFrame returns a frame of zero bytes.
func NewFrame(width, height int, format Format) *Frame {
	g := format.Grid(width, height)
	return &Frame{Width: width, Height: height, Format: format, Pix: make([]byte, g.Cells*g.CellBytes*g.Rows)}
}

// ColorModel, Bounds and At make a Frame an image.Image, so that it can be compared and
// stored as it is.
func (f *Frame) ColorModel() color.Model { return color.RGBAModel }

// Bounds starts at (0, 0).
func (f *Frame) Bounds() image.Rectangle { return image.Rect(0, 0, f.Width, f.Height) }

// At returns the colour of a pixel; outside the panel it is transparent black.
func (f *Frame) At(x, y int) color.Color { return f.RGBAAt(x, y) }

// RGBAAt is At without the interface.
func (f *Frame) RGBAAt(x, y int) color.RGBA {
	if x < 0 || y < 0 || x >= f.Width || y >= f.Height {
		return color.RGBA{}
	}
	g := f.Format.Grid(f.Width, f.Height)
	return f.Format.decode(f.row(g, y), x, y, f.Palette)
}

// row returns the bytes from the row of cells on that holds pixel row y.
func (f *Frame) row(g Grid, y int) []byte {
	if f.Format == MonoPages {
		y /= 8
	}
	return f.Pix[y*g.Cells*g.CellBytes:]
}

// RGBA returns the frame as an 8-bit picture at (0, 0).
func (f *Frame) RGBA() *image.RGBA {
	m := image.NewRGBA(f.Bounds())
	g := f.Format.Grid(f.Width, f.Height)
	for y := range f.Height {
		row := f.row(g, y)
		to := m.Pix[y*m.Stride:]
		for x := range f.Width {
			c := f.Format.decode(row, x, y, f.Palette)
			to[4*x], to[4*x+1], to[4*x+2], to[4*x+3] = c.R, c.G, c.B, 255
		}
	}
	return m
}

// FromImage packs a picture into a panel's format. It returns false where a colour of the
// picture cannot be shown exactly by that format; the frame then holds the nearest that
// truncation gives and must not be taken for the picture. Alpha is ignored.
func FromImage(m image.Image, format Format, palette []color.RGBA) (*Frame, bool) {
	b := m.Bounds()
	f := NewFrame(b.Dx(), b.Dy(), format)
	f.Palette = palette
	index := make(map[color.RGBA]byte, len(palette))
	for i := len(palette) - 1; i >= 0; i-- {
		c := palette[i]
		index[color.RGBA{c.R, c.G, c.B, 255}] = byte(i)
	}
	g := format.Grid(f.Width, f.Height)
	if p, ok := m.(*image.Paletted); ok && g.Cells == f.Width && format != MonoPages {
		return f, f.fillIndexed(p, index)
	}
	exact := true
	for y := range f.Height {
		row := f.row(g, y)
		for x := range f.Width {
			n := color.NRGBAModel.Convert(m.At(b.Min.X+x, b.Min.Y+y)).(color.NRGBA)
			c := color.RGBA{n.R, n.G, n.B, 255}
			format.encode(row, x, y, c, index)
			exact = exact && format.decode(row, x, y, palette) == c
		}
	}
	return f, exact
}

// fillIndexed packs an indexed picture, as stored goldens are, into a format whose cells are pixels: each
// colour is packed once.
func (f *Frame) fillIndexed(p *image.Paletted, index map[color.RGBA]byte) bool {
	size := f.Format.Grid(f.Width, f.Height).CellBytes
	cells := make([]byte, 256*size)
	var exact [256]bool
	for i, c := range p.Palette {
		if i == 256 {
			break
		}
		n := color.NRGBAModel.Convert(c).(color.NRGBA)
		rgb := color.RGBA{n.R, n.G, n.B, 255}
		cell := cells[i*size : (i+1)*size]
		f.Format.encode(cell, 0, 0, rgb, index)
		exact[i] = f.Format.decode(cell, 0, 0, f.Palette) == rgb
	}
	var used [256]bool
	for y := range f.Height {
		from := p.Pix[y*p.Stride : y*p.Stride+f.Width]
		to := f.Pix[y*f.Width*size:][:f.Width*size]
		if size == 2 { // most panels; a copy of two bytes takes longer than they do
			for x, i := range from {
				to[2*x], to[2*x+1] = cells[2*int(i)], cells[2*int(i)+1]
				used[i] = true
			}
			continue
		}
		for x, i := range from {
			copy(to[x*size:(x+1)*size], cells[int(i)*size:])
			used[i] = true
		}
	}
	for i := range used {
		if used[i] && !exact[i] {
			return false
		}
	}
	return true
}

// Clone copies a frame.
func (f *Frame) Clone() *Frame {
	c := *f
	c.Pix = append([]byte(nil), f.Pix...)
	return &c
}

// SameShape reports whether g has f's size and format.
func (f *Frame) SameShape(g *Frame) bool {
	return g != nil && f.Width == g.Width && f.Height == g.Height && f.Format == g.Format
}

func (f *Frame) String() string { return fmt.Sprintf("%dx%d %v", f.Width, f.Height, f.Format) }
