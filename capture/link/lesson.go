package link

import (
	"bytes"
	"slices"

	"github.com/fascia-bench/fascia/capture"
)

// lesson is a rectangle of known tiles for the device's codec and the host's to learn from before they code
// those that are read: what is like them then takes fewer bytes. It costs none on the line, but the device codes
// it, so it is at most twice what is read. Of the known tiles above, below and beside the largest rectangle it
// is where most happens.
func lesson(shown *capture.Frame, g capture.Grid, rects []tileRect, need []bool) (tileRect, bool) {
	var best tileRect
	most, area := 0, 0
	wide := rects[0] // the columns of all
	for _, r := range rects {
		area += int(r.w) * int(r.h)
		end := max(wide.x+wide.w, r.x+r.w)
		wide.x = min(wide.x, r.x)
		wide.w = end - wide.x
	}
	main := slices.MaxFunc(rects, func(a, b tileRect) int { return int(a.w)*int(a.h) - int(b.w)*int(b.h) })
	offer := func(x, y, w, h int) {
		for w*h > 2*area && h > 1 { // drop what is farther away
			if h--; y < int(main.y) {
				y++
			}
		}
		if n := edges(shown, g, x, y, w, h); w*h <= 2*area && n > most {
			best, most = tileRect{byte(x) | knownRect, byte(y), byte(w), byte(h)}, n
		}
	}
	for _, span := range [][2]int{{int(main.x), int(main.w)}, {int(wide.x), int(wide.w)}, {0, g.Tiles}} {
		runs(g.Bands, func(ty int) bool {
			return !slices.Contains(need[ty*g.Tiles+span[0]:][:span[1]], true)
		}, func(y, h int) { offer(span[0], y, span[1], h) })
	}
	runs(g.Tiles, func(tx int) bool {
		for ty := int(main.y); ty < int(main.y+main.h); ty++ {
			if need[ty*g.Tiles+tx] {
				return false
			}
		}
		return true
	}, func(x, w int) { offer(x, int(main.y), w, int(main.h)) })
	return best, most > 0
}

// runs calls f with where each run of what is known begins, and its length.
func runs(n int, known func(int) bool, f func(at, length int)) {
	for i := 0; i < n; i++ {
		at := i
		for i < n && known(i) {
			i++
		}
		if i > at {
			f(at, i-at)
		}
	}
}

// edges counts the cells that differ from the one on their left.
func edges(f *capture.Frame, g capture.Grid, tx, ty, w, h int) (n int) {
	x0, x1 := tx*g.TileCells, min((tx+w)*g.TileCells, g.Cells)
	for y := ty * g.TileRows; y < min((ty+h)*g.TileRows, g.Rows); y++ {
		row := f.Pix[(y*g.Cells+x0)*g.CellBytes : (y*g.Cells+x1)*g.CellBytes]
		for i := g.CellBytes; i < len(row); i += g.CellBytes {
			if !bytes.Equal(row[i:i+g.CellBytes], row[i-g.CellBytes:i]) {
				n++
			}
		}
	}
	return n
}
