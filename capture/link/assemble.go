package link

import (
	"context"
	"encoding/binary"
	"fmt"
	"slices"

	"github.com/fascia-bench/fascia/capture"
)

// candidates are the frames that the screen is compared with before anything is sent.
func (c *Conn) candidates(offered []*capture.Frame) []*knownFrame {
	shown := &capture.Frame{Width: c.hello.Width, Height: c.hello.Height, Format: c.hello.Format}
	var known []*knownFrame
	for _, f := range offered {
		if shown.SameShape(f) {
			known = append(known, &knownFrame{f, hashFrame(f)})
		}
	}
	if c.last != nil && shown.SameShape(c.last.frame) {
		known = append(known, c.last)
	}
	return known
}

// assemble fills shown: bands and tiles that a known frame has at the same place are copied,
// the rest is read.
func (c *Conn) assemble(ctx context.Context, shown *capture.Frame, known []*knownFrame, counter uint16) error {
	g := shown.Format.Grid(shown.Width, shown.Height)
	if len(known) == 0 {
		return c.read(ctx, shown, nil, counter)
	}
	bands, err := c.words(ctx, kindBands, nil, g.Bands, counter)
	if err != nil {
		return err
	}
	var changed []int
	for ty, h := range bands {
		if k := holder(known, func(k *knownFrame) bool { return k.hash.bands[ty] == h }); k != nil {
			copyTiles(shown, k.frame, g, 0, ty, g.Tiles)
			continue
		}
		changed = append(changed, ty)
	}
	need := make([]bool, g.Tiles*g.Bands)
	for _, ty := range changed {
		for tx := range g.Tiles {
			need[ty*g.Tiles+tx] = true
		}
	}
	// Where many bands are new it is a new screen, for which tile hashes would cost more than they
	// save, or one that has scrolled: two bands tell.
	ask, rest := changed, []int(nil)
	if n := len(changed); n > 4 {
		ask = []int{changed[n/3], changed[2*n/3]}
		rest = slices.DeleteFunc(slices.Clone(changed), func(ty int) bool { return slices.Contains(ask, ty) })
	}
	sources := make([]source, g.Tiles*g.Bands)
	placed, err := c.placeTiles(ctx, shown, known, ask, need, sources, counter)
	if err != nil {
		return err
	}
	if rest = moved(shown, g, bands, need, sources, ask, rest); len(rest) > 0 && placed*4 >= len(ask)*g.Tiles {
		if _, err := c.placeTiles(ctx, shown, known, rest, need, sources, counter); err != nil {
			return err
		}
	}
	rects := join(need, g)
	if len(rects) == 0 {
		return nil
	}
	perRequest := (c.hello.MaxRequest-2-9)/4 - 1
	for len(rects) > 0 {
		n := min(perRequest, len(rects))
		request := rects[:n]
		if l, ok := lesson(shown, g, request, need); ok && c.codec() == CodecKeyed {
			request = append([]tileRect{l}, request...)
		}
		if err := c.read(ctx, shown, request, counter); err != nil {
			return err
		}
		rects = rects[n:]
	}
	return nil
}

// placeTiles fetches the tile hashes of some bands, and copies the tiles that a known frame has, there
// or anywhere; those are struck off need. It returns how many that were.
func (c *Conn) placeTiles(ctx context.Context, shown *capture.Frame, known []*knownFrame, bands []int, need []bool, sources []source, counter uint16) (int, error) {
	g := shown.Format.Grid(shown.Width, shown.Height)
	set := make([]byte, (g.Bands+7)/8)
	for _, ty := range bands {
		set[ty/8] |= 1 << (ty % 8)
	}
	tiles, err := c.words(ctx, kindTiles, set, len(bands)*g.Tiles, counter)
	if err != nil {
		return 0, err
	}
	placed := 0
	wanted := map[uint32][]int{}
	for i, h := range tiles {
		tx, ty := i%g.Tiles, bands[i/g.Tiles]
		n := ty*g.Tiles + tx
		if k := holder(known, func(k *knownFrame) bool { return k.hash.tiles[n] == h }); k != nil {
			copyTiles(shown, k.frame, g, tx, ty, 1)
			sources[n] = source{in: k.frame}
			need[n] = false
			placed++
		} else if (tx+1)*g.TileCells <= g.Cells && (ty+1)*g.TileRows <= g.Rows {
			wanted[h] = append(wanted[h], n)
		}
	}
	findWindows(known, wanted, func(n int, in *capture.Frame, x, y int) {
		tx, ty := n%g.Tiles, n/g.Tiles
		sources[n] = source{in, x - tx*g.TileCells, y - ty*g.TileRows}
		copySource(shown, g, sources[n], tx, ty)
		need[n] = false
		placed++
	})
	return placed, nil
}

func holder(known []*knownFrame, has func(*knownFrame) bool) *knownFrame {
	for _, k := range known {
		if has(k) {
			return k
		}
	}
	return nil
}

// words fetches n hashes of 32 bits.
func (c *Conn) words(ctx context.Context, kind byte, args []byte, n int, counter uint16) ([]uint32, error) {
	data, r, err := c.fetch(ctx, kind, args)
	if err != nil {
		return nil, err
	}
	if r.counter != counter {
		return nil, errDrawn
	}
	if len(data) != 4*n {
		return nil, fmt.Errorf("the device sends %d bytes of hashes, not %d: it and the host disagree about the panel's size", len(data), 4*n)
	}
	w := make([]uint32, n)
	for i := range w {
		w[i] = binary.LittleEndian.Uint32(data[4*i:])
	}
	return w, nil
}

// codec is the one with the fewest bytes that the device has.
func (c *Conn) codec() Codec {
	switch {
	case c.hello.Has(CanKeyed):
		return CodecKeyed
	case c.hello.Has(CanDense):
		return CodecDense
	}
	return CodecRuns
}

// copyTiles copies n tiles of a band.
func copyTiles(to, from *capture.Frame, g capture.Grid, tx, ty, n int) {
	stride := g.Cells * g.CellBytes
	x0 := tx * g.TileCells * g.CellBytes
	x1 := min(x0+n*g.TileCells*g.CellBytes, stride)
	for y := ty * g.TileRows; y < min((ty+1)*g.TileRows, g.Rows); y++ {
		copy(to.Pix[y*stride+x0:y*stride+x1], from.Pix[y*stride+x0:])
	}
}

// join gathers tiles into rectangles: runs within a band, and runs of equal extent below one
// another. Coding rectangles saves a third against coding tiles (the codec's state runs on).
func join(need []bool, g capture.Grid) []tileRect {
	var rects []tileRect
	open := map[[2]int]int{} // extent of a run in the band above -> its rectangle
	for ty := range g.Bands {
		next := map[[2]int]int{}
		for tx := 0; tx < g.Tiles; tx++ {
			if !need[ty*g.Tiles+tx] {
				continue
			}
			x := tx
			for tx < g.Tiles && need[ty*g.Tiles+tx] {
				tx++
			}
			span := [2]int{x, tx - x}
			if i, ok := open[span]; ok {
				rects[i].h++
				next[span] = i
				continue
			}
			next[span] = len(rects)
			rects = append(rects, tileRect{byte(x), byte(ty), byte(tx - x), 1})
		}
		open = next
	}
	return rects
}
