package link

import (
	"bytes"
	"slices"

	"github.com/fascia-bench/fascia/capture"
)

// A source is where a tile's content stands in a known frame, from the tile's own place on.
type source struct {
	in     *capture.Frame // nil: not known
	dx, dy int            // cells
}

// moved fills those of the bands that show what known bands show, moved alike: a list that scrolls. What was found
// of the bands tried is held to be so in each other, column by column, and the hash that the device gave tells
// whether it is. Their tiles are struck off need; it returns the bands that are otherwise.
func moved(shown *capture.Frame, g capture.Grid, hashes []uint32, need []bool, sources []source, tried, bands []int) (left []int) {
	var guesses [][]source
	for _, like := range tried {
		row := sources[like*g.Tiles:][:g.Tiles]
		shift := commonest(shown, g, row, like)
		if shift.in == nil {
			continue // nothing moved here
		}
		still := source{in: shift.in}
		for _, order := range [][]source{{shift, still}, {still, shift}} {
			guess := slices.Clone(row)
			for tx := range guess { // a plain tile stands in many places: the one that explains its neighbours, too
				if i := slices.IndexFunc(order, func(s source) bool {
					return row[tx].in == nil || isFrom(shown, g, s, tx, like)
				}); i >= 0 {
					guess[tx] = order[i]
				}
			}
			guesses = append(guesses, guess)
		}
	}
	for _, ty := range bands {
		if !slices.ContainsFunc(guesses, func(guess []source) bool {
			for tx, s := range guess {
				if !copySource(shown, g, s, tx, ty) {
					return false
				}
			}
			return hashBand(shown, g, ty) == hashes[ty]
		}) {
			left = append(left, ty)
			continue
		}
		for tx := range g.Tiles {
			need[ty*g.Tiles+tx] = false
		}
	}
	return left
}

// commonest returns the source, of those that moved, that explains most tiles of a band.
func commonest(shown *capture.Frame, g capture.Grid, row []source, ty int) (best source) {
	most := 0
	for _, s := range row {
		if s.in == nil || s.dx == 0 && s.dy == 0 {
			continue
		}
		n := 0
		for tx, t := range row {
			if t.in != nil && isFrom(shown, g, s, tx, ty) {
				n++
			}
		}
		if n > most {
			best, most = s, n
		}
	}
	return best
}

// isFrom reports whether a tile shows what its source has.
func isFrom(shown *capture.Frame, g capture.Grid, s source, tx, ty int) bool {
	same := true
	return s.rows(g, tx, ty, func(to, from, n int) {
		same = same && bytes.Equal(shown.Pix[to:to+n], s.in.Pix[from:from+n])
	}) && same
}

// copySource copies what a tile's source has for it; false if that is not whole.
func copySource(to *capture.Frame, g capture.Grid, s source, tx, ty int) bool {
	return s.rows(g, tx, ty, func(at, from, n int) { copy(to.Pix[at:at+n], s.in.Pix[from:]) })
}

// rows calls f with each row of a tile: where its bytes begin, where the source's do, and how many they are. It
// returns false when the source does not have all of them.
func (s source) rows(g capture.Grid, tx, ty int, f func(at, from, n int)) bool {
	x0, y0 := tx*g.TileCells, ty*g.TileRows
	x1, y1 := min(x0+g.TileCells, g.Cells), min(y0+g.TileRows, g.Rows)
	if s.in == nil || x0+s.dx < 0 || y0+s.dy < 0 || x1+s.dx > g.Cells || y1+s.dy > g.Rows {
		return false
	}
	for y := y0; y < y1; y++ {
		f((y*g.Cells+x0)*g.CellBytes, ((y+s.dy)*g.Cells+x0+s.dx)*g.CellBytes, (x1-x0)*g.CellBytes)
	}
	return true
}
