package link

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture"
)

// What becomes of the cells of a run's ops, to the letter, and of bytes that are none.
func TestRunsByHand(t *testing.T) {
	many := func(n int, v string) string { return strings.Repeat(v, n) }
	for _, tt := range []struct {
		name   string
		width  int // of one row of Grey8, or
		format capture.Format
		coded  []byte
		want   string // cells in hex, a row after another
		says   string
		height int
	}{
		{"left of nothing is black", 3, capture.Grey8, []byte{0x02}, "000000", "", 1},
		{"a literal, and it again", 4, capture.Grey8, []byte{0xe0, 9, 0x02}, "09090909", "", 1},
		{"three literals", 3, capture.Grey8, []byte{0xe2, 1, 2, 3}, "010203", "", 1},
		{"32 literals", 32, capture.Grey8, append([]byte{0xff}, bytes.Repeat([]byte{7}, 32)...), many(32, "07"), "", 1},
		{"62 at once", 62, capture.Grey8, []byte{0x3d}, many(62, "00"), "", 1},
		{"62, in two bytes", 62, capture.Grey8, []byte{0x3e, 0}, many(62, "00"), "", 1},
		{"63, in two bytes", 63, capture.Grey8, []byte{0x3e, 1}, many(63, "00"), "", 1},
		{"317", 317, capture.Grey8, []byte{0x3e, 255}, many(317, "00"), "", 1},
		{"300, in three bytes", 300, capture.Grey8, []byte{0x3f, 0x2c, 0x01}, many(300, "00"), "", 1},
		{"1, in three bytes", 1, capture.Grey8, []byte{0x3f, 1, 0}, "00", "", 1},
		{"none, in three bytes", 1, capture.Grey8, []byte{0x3f, 0, 0}, "", "a run of nothing", 1},
		{"a run past the end", 3, capture.Grey8, []byte{0x03}, "", "a run goes past them", 1},
		{"literals past the end", 3, capture.Grey8, []byte{0xe3, 1, 2, 3, 4}, "", "literals go past them", 1},
		{"the row above", 3, capture.Grey8, []byte{0xe2, 1, 2, 3, 0x42}, "010203010203", "", 2},
		{"above sets left", 3, capture.Grey8, []byte{0xe2, 1, 2, 3, 0x40, 0x01}, "010203010101", "", 2},
		{"above the first row", 3, capture.Grey8, []byte{0x42}, "", "a run of the row above the first", 1},
		{"the cache", 4, capture.Grey8, []byte{0xe2, 1, 2, 1, 0x80 | 2*0x9e3779b1&0xffffffff>>26}, "01020102", "", 1},
		{"left after the cache", 5, capture.Grey8, []byte{0xe2, 1, 2, 1, 0x80 | 2*0x9e3779b1&0xffffffff>>26, 0}, "0102010202", "", 1},
		{"an empty slot of the cache", 1, capture.Grey8, []byte{0xbf}, "00", "", 1},
		{"grey steps", 4, capture.Grey8, []byte{0xe0, 100, 0xc0 + 26, 0xc0, 0xc0 + 13}, "64716464", "", 1},
		{"a grey step over the end", 2, capture.Grey8, []byte{0xe0, 255, 0xc0 + 14}, "ff00", "", 1},
		{"step 27", 1, capture.Grey8, []byte{0xc0 + 27}, "", "op 0xdb has no meaning", 1},
		{"steps of 565", 4, capture.RGB565LE, []byte{0xe0, 0x10, 0x84, 0xc0 + 26, 0xc0, 0xc0 + 13}, "1084318c10841084", "", 1},
		{"565, big end first", 2, capture.RGB565BE, []byte{0xe0, 0x84, 0x10, 0xc0 + 26}, "84108c31", "", 1},
		{"565 carries", 2, capture.RGB565LE, []byte{0xe0, 0xff, 0xff, 0xc0 + 14}, "ffff0000", "", 1},
		{"888", 2, capture.RGB888, []byte{0xe0, 1, 2, 3, 0xc0 + 26}, "010203020304", "", 1},
		{"888 carries", 2, capture.RGB888, []byte{0xe0, 255, 255, 255, 0xc0 + 14}, "ffffff000000", "", 1},
		{"888 and nothing", 2, capture.XRGB8888, []byte{0xe0, 1, 2, 3, 0xc0 + 0}, "0102030000010200", "", 1},
		{"palettes have no steps", 1, capture.Palette8, []byte{0xc0 + 13}, "", "op 0xcd has no meaning", 1},
		{"nothing", 1, capture.Grey8, nil, "", "they end early", 1},
		{"62 cut", 62, capture.Grey8, []byte{0x3e}, "", "they end early", 1},
		{"63 cut", 62, capture.Grey8, []byte{0x3f, 1}, "", "they end early", 1},
		{"a literal cut", 1, capture.RGB565LE, []byte{0xe0, 1}, "", "they end early", 1},
		{"left over", 1, capture.Grey8, []byte{0xe0, 1, 0}, "", "1 bytes left over", 1},
	} {
		f := capture.NewFrame(tt.width, tt.height, tt.format)
		err := decodePixels(f, nil, CodecRuns, tt.coded)
		if tt.says != "" {
			if !errors.Is(err, ErrPixels) || err.Error() != ErrPixels.Error()+": "+tt.says {
				t.Errorf("%s: %v, want %q", tt.name, err, tt.says)
			}
		} else if got := fmt.Sprintf("%x", f.Pix); err != nil || got != tt.want {
			t.Errorf("%s: %s, %v; want %s", tt.name, got, err, tt.want)
		}
	}
	f := capture.NewFrame(2, 1, capture.RGB565BE)
	if err := decodePixels(f, nil, CodecRaw, []byte{1, 2, 3, 4}); err != nil || !bytes.Equal(f.Pix, []byte{1, 2, 3, 4}) {
		t.Errorf("raw: % x, %v", f.Pix, err)
	}
	for coded, says := range map[string]string{"\x01\x02\x03": "they end early", "\x01\x02\x03\x04\x05": "1 bytes left over"} {
		if err := decodePixels(f, nil, CodecRaw, []byte(coded)); !errors.Is(err, ErrPixels) || err.Error() != ErrPixels.Error()+": "+says {
			t.Errorf("raw, %d bytes: %v", len(coded), err)
		}
	}
	if err := decodePixels(f, nil, 4, nil); err == nil || err.Error() != "link: unknown codec 4" {
		t.Errorf("codec 4: %v", err)
	}
	for _, codec := range []Codec{CodecDense, CodecKeyed} {
		for n, says := range map[int]string{0: "they end early", 1: "", 5: "", 6: "1 bytes left over", 40: "35 bytes left over"} { // zeros are left out at the end, four at most
			err := decodePixels(capture.NewFrame(1, 1, capture.Grey8), nil, codec, make([]byte, n))
			if says == "" && err != nil || says != "" && (!errors.Is(err, ErrPixels) || !strings.HasSuffix(err.Error(), ": "+says)) {
				t.Errorf("codec %d, %d zeros: %v, want %q", codec, n, err, says)
			}
		}
		if err := decodePixels(capture.NewFrame(300, 300, capture.RGB888), nil, codec, []byte{0x5a, 0x11, 0x99}); !errors.Is(err, ErrPixels) || !strings.HasSuffix(err.Error(), "they end early") {
			t.Errorf("codec %d cut: %v", codec, err)
		}
	}
}

// Differences of channels by their size, and the neighbours' plane, over all that three bits can be.
func TestFoldAndPlane(t *testing.T) {
	for _, mask := range []uint32{7, 31, 255} {
		for i, want := range []uint32{0, 1, mask, 2, mask - 1, 3} { // 0, 1, -1, 2, -2, 3
			_ = want
			d := []uint32{0, mask, 1, mask - 1, 2, mask - 2}[i]
			if got := fold(d, mask); got != uint32(i) {
				t.Errorf("fold(%d, %d) = %d, want %d", d, mask, got, i)
			}
		}
		seen := map[uint32]bool{}
		for d := range mask + 1 {
			z := fold(d, mask)
			if z > mask || seen[z] || unfold(z, mask) != d {
				t.Errorf("mask %d: %d folds to %d and back to %d", mask, d, z, unfold(z, mask))
			}
			seen[z] = true
		}
	}
	for left := range uint32(8) {
		for up := range uint32(8) {
			for corner := range uint32(8) {
				want := uint32(min(max(int(left)+int(up)-int(corner), 0), 7))
				if got := plane(left|8, up|16, corner|32, 7); got != want {
					t.Errorf("plane(%d, %d, %d) = %d, want %d", left, up, corner, got, want)
				}
			}
		}
	}
	for _, tt := range [][5]uint32{{1, 2, 3, 4, 0}, {1, 1, 3, 4, 1}, {1, 2, 3, 2, 2}, {1, 2, 2, 4, 4}, {1, 1, 1, 1, 7}, {5, 2, 2, 2, 6}} {
		if got := shape(tt[0], tt[1], tt[2], tt[3]); got != tt[4] {
			t.Errorf("shape of %v is %d", tt[:4], got)
		}
	}
}

// An area is copied to the pixel in every format, and the unused bits at the edge with the last one.
func TestCopyAreaAgainstPixels(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 5))
	for f := capture.MonoRows; f.Valid(); f++ {
		for range 200 {
			w, h := 1+r.IntN(45), 1+r.IntN(25)
			from, to := capture.NewFrame(w, h, f), capture.NewFrame(w, h, f)
			for i := range from.Pix {
				from.Pix[i], to.Pix[i] = byte(r.Uint32()), byte(r.Uint32())
			}
			if f == capture.Palette8 {
				for i := range 256 {
					from.Palette = append(from.Palette, color.RGBA{byte(i), 1, 2, 255})
				}
				to.Palette = from.Palette
			}
			x, y := r.IntN(w+2)-1, r.IntN(h+2)-1
			area := image.Rect(x, y, x+1+r.IntN(w+3), y+1+r.IntN(h+3))
			was := to.Clone()
			copyArea(to, from, area)
			for y := range h {
				for x := range w {
					want := was
					if image.Pt(x, y).In(area) {
						want = from
					}
					if to.RGBAAt(x, y) != want.RGBAAt(x, y) {
						t.Fatalf("%v of %v: pixel %d,%d is %v, want %v", area, to, x, y, to.RGBAAt(x, y), want.RGBAAt(x, y))
					}
				}
			}
			if area = image.Rect(0, 0, w, h); true {
				if copyArea(to, from, area); !bytes.Equal(to.Pix, from.Pix) {
					t.Fatalf("all of %v: the bytes differ", to)
				}
			}
		}
	}
}

// The sums of rows by which windows are found are those of a tile's hash, wherever the tile would begin.
func TestWindowsHaveTheHashOfTheirTile(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 5))
	for f := capture.MonoRows; f.Valid(); f++ {
		big := capture.NewFrame(75, 40, f)
		for i := range big.Pix {
			big.Pix[i] = byte(r.Uint32())
		}
		g := f.Grid(big.Width, big.Height)
		tile := capture.NewFrame(capture.TileWidth, capture.TileHeight, f)
		tg := f.Grid(tile.Width, tile.Height)
		wide, high := g.Cells-g.TileCells, g.Rows-g.TileRows
		for range 20 {
			x, y := r.IntN(wide+1), r.IntN(high+1)
			for row := range tg.Rows {
				copy(tile.Pix[row*tg.Cells*tg.CellBytes:][:tg.Cells*tg.CellBytes], big.Pix[((y+row)*g.Cells+x)*g.CellBytes:])
			}
			own, _ := hashTile(tile, tg, 0, 0)
			found := 0
			wanted := map[uint32][]int{own: {3, 8}, 12345: {1}}
			other := capture.NewFrame(9, 3, f)
			findWindows([]*knownFrame{{frame: other}, {frame: big}}, wanted, func(n int, in *capture.Frame, fx, fy int) {
				if found++; in != big || fx != x || fy != y || n != []int{3, 8}[found-1] {
					t.Errorf("%v: tile %d found at %d,%d, want %d,%d", f, n, fx, fy, x, y)
				}
			})
			if found != 2 || len(wanted) != 1 {
				t.Errorf("%v at %d,%d: found %d times, %d are wanted still", f, x, y, found, len(wanted))
			}
		}
		// Corners count, too: the last place of the last row is one.
		for _, at := range [][2]int{{0, 0}, {wide, high}, {wide, 0}, {0, high}} {
			var own uint32
			for row := range g.TileRows {
				own += rowWeight[row] * rowSums(big, g, at[1]+row, wide+1)[at[0]]
			}
			found := false
			findWindows([]*knownFrame{{frame: big}}, map[uint32][]int{own: {0}}, func(n int, in *capture.Frame, x, y int) {
				found = [2]int{x, y} == at
			})
			if !found {
				t.Errorf("%v: the window at %v is not found", f, at)
			}
		}
	}
	// A frame of one tile has one place.
	one := capture.NewFrame(capture.TileWidth, capture.TileHeight, capture.Grey8)
	own, _ := hashTile(one, one.Format.Grid(one.Width, one.Height), 0, 0)
	places := 0
	findWindows([]*knownFrame{{frame: one}}, map[uint32][]int{own: {0}}, func(n int, in *capture.Frame, x, y int) { places++ })
	if places != 1 {
		t.Errorf("a frame of one tile: found %d times", places)
	}
	// Beyond a million places none is looked at, up to that all are.
	wide := capture.NewFrame(1031, 1015, capture.Grey8) // 1000 x 1000 places
	g := wide.Format.Grid(wide.Width, wide.Height)
	last, _ := hashTile(wide, capture.Grid{Cells: g.Cells, Rows: g.Rows, CellBytes: 1, TileCells: 32, TileRows: 16, Tiles: g.Tiles, Bands: g.Bands}, 1, 1)
	for _, tt := range []struct {
		frames []*knownFrame
		want   int
	}{{[]*knownFrame{{frame: wide}}, 1}, {[]*knownFrame{{frame: capture.NewFrame(1031, 1016, capture.Grey8)}}, 0}, {[]*knownFrame{{frame: capture.NewFrame(33, 16, capture.RGB565LE)}, {frame: wide}}, 0}} {
		n := 0
		findWindows(tt.frames, map[uint32][]int{last: {0}, 1: {1}}, func(int, *capture.Frame, int, int) { n++ })
		if n != tt.want {
			t.Errorf("of %d places: found %d times, want %d", len(tt.frames), n, tt.want)
		}
	}
}

func TestWordsOfHashes(t *testing.T) {
	var w []byte
	for i := range uint32(32) {
		w = binary.LittleEndian.AppendUint32(w, wordWeight[i])
	}
	for _, r := range rowWeight {
		w = binary.LittleEndian.AppendUint32(w, r)
	}
	for i := range 3 {
		w = binary.LittleEndian.AppendUint32(w, tileKey(i))
	}
	text := fmt.Sprintf("weights %x\n", w)
	for f := capture.MonoRows; f.Valid(); f++ {
		for _, size := range [][2]int{{1, 1}, {33, 17}, {45, 21}} {
			p := capture.NewFrame(size[0], size[1], f)
			for i := range p.Pix {
				p.Pix[i] = byte(i*i>>3 ^ i)
			}
			g := f.Grid(size[0], size[1])
			h := hashFrame(p)
			text += fmt.Sprintf("%v: %x, bands %x, tiles %x\n", p, h.frame, h.bands, h.tiles)
			for ty := range g.Bands {
				if hashBand(p, g, ty) != h.bands[ty] {
					t.Errorf("%v: band %d has two hashes", p, ty)
				}
			}
		}
	}
	holdsText(t, "hashes", text)
}

// Of the sources of a band the one that moved and explains most tiles is taken, sideways and up and down; what stands still
// is none.
func TestCommonestSource(t *testing.T) {
	was := capture.NewFrame(160, 64, capture.Grey8)
	for i := range was.Pix {
		was.Pix[i] = byte(i*i>>3 ^ i/5)
	}
	g := was.Format.Grid(was.Width, was.Height)
	for _, d := range [][2]int{{0, 3}, {4, 0}, {4, 3}, {-2, -1}} {
		s := source{was, d[0], d[1]}
		still := source{in: was}
		shown := capture.NewFrame(160, 64, capture.Grey8)
		row := []source{still, s, s, still, {}}
		for tx := range 4 {
			if !copySource(shown, g, row[tx], tx, 1) {
				t.Fatalf("tile %d has no source", tx)
			}
		}
		if got := commonest(shown, g, row, 1); got != s {
			t.Errorf("moved by %v: the commonest source is %+v", d, got)
		}
		if got := commonest(shown, g, []source{still, still, {}, still, {}}, 1); got.in != nil {
			t.Errorf("nothing moved, and the commonest source is %+v", got)
		}
		other := source{was, d[0] + 1, d[1]}
		if got := commonest(shown, g, []source{other, s, s, still, {}}, 1); got != s {
			t.Errorf("two of three moved by %v: the commonest source is %+v", d, got)
		}
	}
	// A source that leaves the frame at any side is not whole.
	for _, tt := range []struct {
		dx, dy, tx, ty int
		want           bool
	}{{0, 0, 0, 0, true}, {-1, 0, 0, 0, false}, {0, -1, 0, 0, false}, {1, 0, 4, 0, false}, {0, 1, 0, 3, false}, {-1, 0, 1, 0, true}, {0, -16, 0, 1, true}, {0, -17, 0, 1, false},
		{-32, 0, 1, 0, true}, {-33, 0, 1, 0, false}, {32, 16, 3, 2, true}, {33, 16, 3, 2, false}, {32, 17, 3, 2, false}} {
		rows := 0
		s := source{was, tt.dx, tt.dy}
		if got := s.rows(g, tt.tx, tt.ty, func(at, from, n int) {
			if n != 32 || at != (tt.ty*16+rows)*160+tt.tx*32 || from != at+tt.dy*160+tt.dx {
				t.Errorf("%+v: row %d at %d from %d, %d bytes", tt, rows, at, from, n)
			}
			rows++
		}); got != tt.want || got != (rows == 16) {
			t.Errorf("%+v: whole %v, %d rows", tt, got, rows)
		}
	}
	if (source{}).rows(g, 0, 0, nil) {
		t.Error("no source is whole")
	}
}
