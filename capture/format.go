package capture

import (
	"encoding/binary"
	"fmt"
	"image/color"
)

// A Format says how a panel's pixels lie in memory. The numbers are those of the link.
type Format uint8

// The formats that the link knows; see enum fascia_format in fascia_agent.h.
const (
	MonoRows  Format = 1 + iota // 8 pixels a byte along the row, leftmost in the high bit
	MonoPages                   // 8 pixels a byte down the column, topmost in the low bit
	Grey2                       // 4 pixels a byte, leftmost in the high bits
	Grey4                       // 2 pixels a byte, leftmost in the high bits
	Grey8
	Palette8
	RGB332
	RGB565LE
	RGB565BE
	RGB888   // bytes red, green, blue
	XRGB8888 // bytes blue, green, red, unused
)

var formatNames = [...]string{MonoRows: "mono", MonoPages: "mono-pages", Grey2: "grey2", Grey4: "grey4", Grey8: "grey8",
	Palette8: "palette8", RGB332: "rgb332", RGB565LE: "rgb565le", RGB565BE: "rgb565be", RGB888: "rgb888", XRGB8888: "xrgb8888"}

func (f Format) String() string {
	if !f.Valid() {
		return fmt.Sprintf("format %d", uint8(f))
	}
	return formatNames[f]
}

// Valid reports whether the link defines f.
func (f Format) Valid() bool { return f >= MonoRows && int(f) < len(formatNames) }

// FormatNames lists the names that ParseFormat takes, in the link's order.
func FormatNames() []string { return formatNames[1:] }

// ParseFormat reads a format's name; "rgb565" is rgb565le.
func ParseFormat(name string) (Format, error) {
	if name == "rgb565" {
		return RGB565LE, nil
	}
	for f, n := range formatNames {
		if n == name && n != "" {
			return Format(f), nil
		}
	}
	return 0, fmt.Errorf("unknown pixel format %q: one of %v", name, FormatNames())
}

// A Grid is how hash and codec see a panel: rows of cells. A cell is a pixel, or a byte
// of several pixels; a tile is 32x16 pixels; a band is a row of tiles.
type Grid struct {
	Cells, Rows, CellBytes int
	TileCells, TileRows    int
	Tiles, Bands           int // tiles in a band; bands
}

// Tile size in pixels, fixed by the link.
const (
	TileWidth  = 32
	TileHeight = 16
)

// Grid returns the cells of a panel of that size. The format must be Valid.
func (f Format) Grid(width, height int) Grid {
	bits := 8
	switch f {
	case MonoRows, MonoPages:
		bits = 1
	case Grey2:
		bits = 2
	case Grey4:
		bits = 4
	}
	g := Grid{Cells: (width*bits + 7) / 8, Rows: height, CellBytes: 1, TileCells: TileWidth * bits / 8, TileRows: TileHeight}
	switch f {
	case MonoPages:
		g.Cells, g.Rows, g.TileCells, g.TileRows = width, (height+7)/8, TileWidth, TileHeight/8
	case RGB565LE, RGB565BE:
		g.CellBytes = 2
	case RGB888:
		g.CellBytes = 3
	case XRGB8888:
		g.CellBytes = 4
	}
	g.Tiles = (g.Cells + g.TileCells - 1) / g.TileCells
	g.Bands = (g.Rows + g.TileRows - 1) / g.TileRows
	return g
}

// grey spreads n bits over 0..255 by replication, so that the ends are black and white.
func grey(v byte, bits uint) color.RGBA {
	switch bits {
	case 1:
		v *= 255
	case 2:
		v *= 0x55
	case 4:
		v *= 0x11
	}
	return color.RGBA{v, v, v, 255}
}

// Expand565 turns RGB565 into 8 bits a channel by bit replication: (v<<3 | v>>2) for red and
// blue, (v<<2 | v>>4) for green. This is one of two rules in use (the other rounds v*255/31);
// they differ by one level for 4 of 32 and 10 of 64 codes. It is exact both ways: the high
// bits give the code back.
func Expand565(v uint16) color.RGBA {
	r, g, b := byte(v>>11), byte(v>>5&63), byte(v&31)
	return color.RGBA{r<<3 | r>>2, g<<2 | g>>4, b<<3 | b>>2, 255}
}

// Pack565 keeps the high bits of each channel.
func Pack565(c color.RGBA) uint16 {
	return uint16(c.R>>3)<<11 | uint16(c.G>>2)<<5 | uint16(c.B>>3)
}

// spread3 replicates three bits over eight, spread2 two.
func spread3(v byte) byte { return v<<5 | v<<2 | v>>1 }
func spread2(v byte) byte { return v * 0x55 }

// decode reads pixel x of a row of bytes; y matters for pages alone.
func (f Format) decode(row []byte, x, y int, palette []color.RGBA) color.RGBA {
	switch f {
	case MonoRows:
		return grey(row[x/8]>>(7-x%8)&1, 1)
	case MonoPages:
		return grey(row[x]>>(y%8)&1, 1)
	case Grey2:
		return grey(row[x/4]>>(6-x%4*2)&3, 2)
	case Grey4:
		return grey(row[x/2]>>(4-x%2*4)&15, 4)
	case Grey8:
		return grey(row[x], 8)
	case Palette8:
		if i := int(row[x]); i < len(palette) {
			return color.RGBA{palette[i].R, palette[i].G, palette[i].B, 255}
		}
		return color.RGBA{A: 255}
	case RGB332:
		return color.RGBA{spread3(row[x] >> 5), spread3(row[x] >> 2 & 7), spread2(row[x] & 3), 255}
	case RGB565LE:
		return Expand565(binary.LittleEndian.Uint16(row[2*x:]))
	case RGB565BE:
		return Expand565(binary.BigEndian.Uint16(row[2*x:]))
	case RGB888:
		return color.RGBA{row[3*x], row[3*x+1], row[3*x+2], 255}
	case XRGB8888:
		return color.RGBA{row[4*x+2], row[4*x+1], row[4*x], 255}
	}
	return color.RGBA{}
}

// encode writes pixel x of a row; greys take green's level.
func (f Format) encode(row []byte, x, y int, c color.RGBA, index map[color.RGBA]byte) {
	put := func(i int, shift, mask, v byte) { row[i] = row[i]&^(mask<<shift) | v<<shift }
	switch f {
	case MonoRows:
		put(x/8, byte(7-x%8), 1, c.G>>7)
	case MonoPages:
		put(x, byte(y%8), 1, c.G>>7)
	case Grey2:
		put(x/4, byte(6-x%4*2), 3, c.G>>6)
	case Grey4:
		put(x/2, byte(4-x%2*4), 15, c.G>>4)
	case Grey8:
		row[x] = c.G
	case Palette8:
		row[x] = index[c]
	case RGB332:
		row[x] = c.R&0xe0 | c.G>>5<<2 | c.B>>6
	case RGB565LE:
		binary.LittleEndian.PutUint16(row[2*x:], Pack565(c))
	case RGB565BE:
		binary.BigEndian.PutUint16(row[2*x:], Pack565(c))
	case RGB888:
		row[3*x], row[3*x+1], row[3*x+2] = c.R, c.G, c.B
	case XRGB8888:
		row[4*x], row[4*x+1], row[4*x+2], row[4*x+3] = c.B, c.G, c.R, 0
	}
}
