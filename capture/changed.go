package capture

import "image"

// Changed is the smallest box around the pixels that differ between two frames; the whole panel where
// they are not of one shape.
func Changed(a, b *Frame) image.Rectangle {
	if !a.SameShape(b) {
		return a.Bounds()
	}
	var box image.Rectangle
	for y := range a.Height {
		for x := range a.Width {
			if a.RGBAAt(x, y) != b.RGBAAt(x, y) {
				box = box.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	return box
}

// Blank sets the pixels of an area to zero bytes, where cells are whole pixels, and whole cells where
// they hold several.
func (f *Frame) Blank(area image.Rectangle) {
	area = area.Intersect(f.Bounds())
	for y := area.Min.Y; y < area.Max.Y; y++ {
		for x := area.Min.X; x < area.Max.X; x++ {
			f.Format.blank(f.Pix, f.Width, f.Height, x, y)
		}
	}
}

func (f Format) blank(pix []byte, width, height, x, y int) {
	g := f.Grid(width, height)
	cell := x * g.Cells / width
	row := y
	switch f {
	case MonoPages:
		cell, row = x, y/8
	case MonoRows:
		cell = x / 8
	case Grey2:
		cell = x / 4
	case Grey4:
		cell = x / 2
	}
	at := (row*g.Cells + cell) * g.CellBytes
	clear(pix[at : at+g.CellBytes])
}
