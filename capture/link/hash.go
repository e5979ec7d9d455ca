package link

import (
	"github.com/fascia-bench/fascia/capture"
)

// The hash of PROTOCOL.md, section "Hash". It is a sum over 32-bit words, each mixed by a
// bijection and weighted by its place with an odd number, so the order in which a panel's
// strips pass does not matter, and a change within one word is always seen.

// mix is lowbias32 of C. Wellons (a bijection on 32 bits; from memory, its quality is tested).
func mix(x uint32) uint32 {
	x = (x ^ x>>16) * 0x7feb352d
	x = (x ^ x>>15) * 0x846ca68b
	return x ^ x>>16
}

var wordWeight, rowWeight = func() (w [32]uint32, r [capture.TileHeight]uint32) {
	for i := range w {
		w[i] = mix(uint32(i)+1) | 1
	}
	for i := range r {
		r[i] = mix(uint32(i)+101) | 1
	}
	return w, r
}()

// hashes of a frame: of each tile, of each band, and of the whole.
type hashes struct {
	tiles, bands []uint32
	frame        uint64
}

func hashFrame(f *capture.Frame) hashes {
	g := f.Format.Grid(f.Width, f.Height)
	h := hashes{tiles: make([]uint32, g.Tiles*g.Bands), bands: make([]uint32, g.Bands)}
	first := mix(uint32(f.Width) | uint32(f.Height)<<16)
	second := uint32(f.Format)
	for ty := range g.Bands {
		for tx := range g.Tiles {
			n := ty*g.Tiles + tx
			s, q := hashTile(f, g, tx, ty)
			h.tiles[n] = s
			h.bands[ty] += mix(s + tileKey(n))
			second += tileKey(n) * q
		}
		first += h.bands[ty]
	}
	h.frame = uint64(second)<<32 | uint64(first)
	return h
}

// tileKey weighs a tile among the others.
func tileKey(n int) uint32 { return mix(uint32(n)+1001) | 1 }

// hashBand returns one band's hash.
func hashBand(f *capture.Frame, g capture.Grid, ty int) (sum uint32) {
	for tx := range g.Tiles {
		s, _ := hashTile(f, g, tx, ty)
		sum += mix(s + tileKey(ty*g.Tiles+tx))
	}
	return sum
}

// hashTile returns a tile's own hash and its share of the frame's second lane.
func hashTile(f *capture.Frame, g capture.Grid, tx, ty int) (own, share uint32) {
	stride := g.Cells * g.CellBytes
	x0 := tx * g.TileCells * g.CellBytes
	x1 := min(x0+g.TileCells*g.CellBytes, stride)
	mask := ^uint32(0)
	if f.Format == capture.XRGB8888 {
		mask = 0x00ffffff // the fourth byte means nothing
	}
	for r := 0; r < g.TileRows && ty*g.TileRows+r < g.Rows; r++ {
		row := f.Pix[(ty*g.TileRows+r)*stride:][x0:x1]
		var s, q uint32
		for i := 0; i < len(row); i += 4 {
			var w uint32
			for k := min(4, len(row)-i) - 1; k >= 0; k-- {
				w = w<<8 | uint32(row[i+k])
			}
			u := (w&mask ^ 0x5bd1e995) * 0x9e3779b1
			u ^= u >> 15
			s += wordWeight[i/4] * u
			u *= 0x85ebca77
			u ^= u >> 13
			q += wordWeight[i/4] * u
		}
		own += rowWeight[r] * s
		share += rowWeight[r] * q
	}
	return own, share
}

// HashFrame returns the 64-bit hash by which device and host agree that they hold the same
// frame. Two frames that differ share it with a chance of about 2^-64.
func HashFrame(f *capture.Frame) uint64 { return hashFrame(f).frame }
