package link

import (
	"encoding/binary"

	"github.com/fascia-bench/fascia/capture"
)

// maxWindows bounds the places of known frames that a tile is looked for at. Beyond a million a
// hash of 32 bits finds a wrong place too often; the frame's hash would notice, at the price of
// sending the frame.
const maxWindows = 1_000_000

// findWindows looks for tiles by their hash at every offset of the known frames: what has
// scrolled, or stands somewhere in a known screen, need not be sent. wanted maps a hash to whole
// tiles that have it; found is called with each tile and the cell where its like begins.
func findWindows(known []*knownFrame, wanted map[uint32][]int, found func(tile int, in *capture.Frame, x, y int)) {
	places := 0
	for _, k := range known {
		if len(wanted) == 0 {
			return
		}
		g := k.frame.Format.Grid(k.frame.Width, k.frame.Height)
		wide, high := g.Cells-g.TileCells+1, g.Rows-g.TileRows+1
		if wide < 1 || high < 1 {
			continue
		}
		if places += wide * high; places > maxWindows {
			return
		}
		sums := make([][]uint32, g.Rows) // of each row, the weighted words of a tile's row that begins there
		for y := range sums {
			sums[y] = rowSums(k.frame, g, y, wide)
		}
		for y := range high {
			for x := range wide {
				var own uint32
				for r := range g.TileRows {
					own += rowWeight[r] * sums[y+r][x]
				}
				tiles, ok := wanted[own]
				if !ok {
					continue
				}
				for _, n := range tiles {
					found(n, k.frame, x, y)
				}
				delete(wanted, own)
			}
		}
	}
}

// rowSums is the inner sum of hashTile for a tile's row at each cell of row y.
func rowSums(f *capture.Frame, g capture.Grid, y, wide int) []uint32 {
	stride := g.Cells * g.CellBytes
	row := f.Pix[y*stride : (y+1)*stride]
	mask := ^uint32(0)
	if f.Format == capture.XRGB8888 {
		mask = 0x00ffffff
	}
	mixed := make([]uint32, len(row)) // the word that begins at each byte
	step := g.CellBytes
	if step == 3 {
		step = 1 // words of four bytes begin anywhere
	}
	for i := 0; i+4 <= len(row); i += step {
		u := (binary.LittleEndian.Uint32(row[i:])&mask ^ 0x5bd1e995) * 0x9e3779b1
		mixed[i] = u ^ u>>15
	}
	words := g.TileCells * g.CellBytes / 4
	sums := make([]uint32, wide)
	for x := range sums {
		var s uint32
		at := x * g.CellBytes
		for i := range words {
			s += wordWeight[i] * mixed[at+4*i]
		}
		sums[x] = s
	}
	return sums
}
