package link

import (
	"context"
	"errors"
	"fmt"
	"image/color"
	"slices"
	"time"

	"github.com/fascia-bench/fascia/capture"
)

// learnCell is the time that a slow device may take to learn a cell: some 150 instructions at 16 MHz, twice.
const learnCell = 20 * time.Microsecond

// firstPart is how many bytes of a coded picture of raw bytes are asked for at once. Few screens are longer; those that are travel on in
// longer frames, and as they are where coding gains nothing. A further part costs a request, and the device's time to code again what went
// before: that is little with runs, which in turn lose more by noise.
func firstPart(raw int, codec Codec) int {
	if codec == CodecRuns {
		raw /= 2
	}
	return min(max(raw/16, 256), 8192)
}

// read fetches rectangles of tiles; none means the whole panel.
func (c *Conn) read(ctx context.Context, shown *capture.Frame, rects []tileRect, counter uint16) error {
	g := shown.Format.Grid(shown.Width, shown.Height)
	if len(rects) == 0 {
		rects = []tileRect{{0, 0, byte(g.Tiles), byte(g.Bands)}}
	}
	var head time.Duration
	var args []byte
	for _, r := range rects {
		args = append(args, r.x, r.y, r.w, r.h)
		if r.x&knownRect != 0 {
			head += time.Duration(int(r.w)*int(r.h)*g.TileCells*g.TileRows) * learnCell
		}
	}
	defer func() { c.pace.chunk = min(c.pace.chunk, c.pace.most) }()
	codec, s := c.codec(), newStitch()
	for part := firstPart(g.Cells*g.Rows*g.CellBytes, codec); ; part *= 4 {
		r, err := c.fetchUpTo(ctx, kindRead, slices.Concat([]byte{byte(codec)}, args), head, s, part)
		if err != nil {
			return err
		}
		if r.counter != counter {
			return errDrawn
		}
		if s.whole() {
			return asPixels(decodePixels(shown, rects, codec, s.data))
		}
		if c.calm() {
			c.pace.chunk = max(c.pace.chunk, longChunk)
		}
		if codec != CodecRuns {
			continue // codec 3 itself sends what it cannot code as it is
		}
		sc := newScan(shown, rects)
		if _, err := decodeRuns(sc, s.data); err != nil && !errors.Is(err, errEarly) {
			return asPixels(err)
		}
		if sc.done*sc.width*50 > len(s.data)*51 {
			continue
		}
		// The rest raw, from the cell on that is still missing.
		rest := newStitch()
		rest.base = sc.done * sc.width
		if r, err = c.fetchUpTo(ctx, kindRead, slices.Concat([]byte{byte(CodecRaw)}, args), 0, rest, 0); err != nil {
			return err
		}
		if r.counter != counter {
			return errDrawn
		}
		data, err := decodeRaw(sc, rest.data)
		if err == nil && len(data) > 0 {
			err = fmt.Errorf("%w: %d bytes left over", ErrPixels, len(data))
		}
		return asPixels(err)
	}
}

// calm reports whether the line has long been without trouble, so that a frame may well be long: one that is lost, or that two lines of log
// cut into, costs all of it.
func (c *Conn) calm() bool {
	if n := int64(c.pace.losses) + c.split.rescued; n != c.troubles {
		c.troubles, c.troubled = n, c.down
	}
	return c.troubles == 0 || c.down-c.troubled > 128<<10
}

// asPixels says what may be behind pixels that do not decode.
func asPixels(err error) error {
	if err != nil {
		return fmt.Errorf("%w; do host and device agree about the panel's size and format?", err)
	}
	return nil
}

// colours are the palette as it was when the frame counter stood so.
type colours struct {
	counter uint16
	palette []color.RGBA
}

// palette fetches the palette, unless nothing was drawn since that was done.
func (c *Conn) palette(ctx context.Context, counter uint16) ([]color.RGBA, error) {
	if c.colours != nil && c.colours.counter == counter {
		return slices.Clone(c.colours.palette), nil
	}
	data, r, err := c.fetch(ctx, kindPalette, nil)
	if err != nil {
		return nil, err
	}
	if r.counter != counter {
		return nil, errDrawn
	}
	if len(data) != 3*c.hello.Colours {
		return nil, fmt.Errorf("the device sends %d bytes of palette, not %d", len(data), 3*c.hello.Colours)
	}
	p := make([]color.RGBA, c.hello.Colours)
	for i := range p {
		p[i] = color.RGBA{data[3*i], data[3*i+1], data[3*i+2], 255}
	}
	c.colours = &colours{counter, slices.Clone(p)}
	return p, nil
}
