package link

import (
	"context"
	"encoding/binary"
	"errors"
	"image"

	"github.com/fascia-bench/fascia/capture"
)

// A mirror is the panel of a device without a framebuffer, as the host can know it. A look there is
// drawn for the host alone and leaves the panel as it is; what has been flushed since the look before,
// the device says. So the panel shows what is drawn now inside those areas, and outside them what the
// mirror held: an update that forgot a row shows.
//
// The mirror knows where was flushed, not what: an area that was flushed wrong and would be drawn
// right now is not seen.
type mirror struct {
	shown *capture.Frame // nil until a whole panel was flushed
	areas uint16         // number of the last area that is in it
}

// asFlushed makes of a look what the panel shows. The hash then is the mirror's own: the device, which
// has no framebuffer, cannot vouch for it.
func (c *Conn) asFlushed(ctx context.Context, l Look, opt LookOptions, counter uint16) (Look, error) {
	if !c.hello.Has(Strips) {
		return l, nil
	}
	drawn := l.Frame
	if c.mirror.shown == nil || !drawn.SameShape(c.mirror.shown) || l.areas != c.mirror.areas {
		first, areas, err := c.flushed(ctx, counter)
		if err != nil {
			return Look{}, err
		}
		shown := c.mirror.shown
		for _, r := range areas {
			if r == drawn.Bounds() {
				shown, first = drawn.Clone(), c.mirror.areas+1
			}
		}
		if shown == nil || !drawn.SameShape(shown) || first != c.mirror.areas+1 {
			shown, l.Redrawn = drawn, true // more was flushed than the device remembers
		}
		shown = shown.Clone()
		for _, r := range areas {
			copyArea(shown, drawn, r)
		}
		c.mirror = mirror{shown, l.areas}
	}
	c.mirror.shown.Palette = drawn.Palette
	if l.Frame = c.mirror.shown.Clone(); opt.Redraw {
		l.Frame = drawn
	}
	l.Hash = HashFrame(l.Frame)
	return l, nil
}

// flushed fetches the areas flushed since those in the mirror, and the first one's number.
func (c *Conn) flushed(ctx context.Context, counter uint16) (first uint16, areas []image.Rectangle, err error) {
	data, r, err := c.fetch(ctx, kindFlushed, binary.LittleEndian.AppendUint16(nil, c.mirror.areas))
	if err != nil {
		return 0, nil, err
	}
	if r.counter != counter {
		return 0, nil, errDrawn
	}
	if len(data) < 2 || len(data)%8 != 2 {
		return 0, nil, errors.New("the device's list of flushed areas is cut")
	}
	le := binary.LittleEndian
	for d := data[2:]; len(d) > 0; d = d[8:] {
		x, y, w, h := int(le.Uint16(d)), int(le.Uint16(d[2:])), int(le.Uint16(d[4:])), int(le.Uint16(d[6:]))
		areas = append(areas, image.Rect(x, y, x+w, y+h))
	}
	return le.Uint16(data), areas, nil
}

// copyArea copies an area's pixels, cut to the panel.
func copyArea(to, from *capture.Frame, r image.Rectangle) {
	r = r.Intersect(from.Bounds())
	g := from.Format.Grid(from.Width, from.Height)
	bits := g.TileCells * g.CellBytes * 8 / capture.TileWidth // of a pixel
	pages := from.Format == capture.MonoPages
	if r.Max.X == from.Width && !pages && bits < 8 { // with the unused bits at the end of a row or page
		r.Max.X = g.Cells * 8 / bits
	}
	if r.Max.Y == from.Height && pages {
		r.Max.Y = g.Rows * 8
	}
	for y := r.Min.Y; y < r.Max.Y; y++ {
		if bits >= 8 && !pages {
			at := (y*g.Cells + r.Min.X) * g.CellBytes
			copy(to.Pix[at:at+r.Dx()*g.CellBytes], from.Pix[at:])
			continue
		}
		for x := r.Min.X; x < r.Max.X; x++ {
			at, mask := y*g.Cells+x*bits/8, byte(1<<bits-1)<<(8-bits-x*bits%8)
			if pages {
				at, mask = y/8*g.Cells+x, 1<<(y%8)
			}
			to.Pix[at] = to.Pix[at]&^mask | from.Pix[at]&mask
		}
	}
}

// Drawn is what the device drew for the last look, before the mirror was made of it; nil before the
// first. Where the device has a framebuffer it is that look's picture.
func (c *Conn) Drawn() *capture.Frame {
	if c.last == nil {
		return nil
	}
	return c.last.frame
}
