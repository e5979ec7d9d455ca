package link

import (
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture"
)

// Looks of one screen after another, of known ones, of scrolled ones, and what travels for each.
func TestWhatALookSends(t *testing.T) {
	ctx := t.Context()
	for _, f := range []capture.Format{capture.Grey8, capture.RGB565BE, capture.XRGB8888, capture.Palette8, capture.MonoRows, capture.MonoPages} {
		t.Run(f.String(), func(t *testing.T) {
			m := newMock(140, 100, f)
			if f == capture.Palette8 {
				m.hello.Colours = 3
				m.frame.Palette = []color.RGBA{{1, 2, 3, 255}, {4, 5, 6, 255}, {7, 8, 9, 255}}
			}
			s, c := play(t, m, Options{})
			g := f.Grid(140, 100)
			stride := g.Cells * g.CellBytes
			see := func(what string, opt LookOptions) {
				l, err := c.Look(ctx, opt)
				if err != nil {
					s.say("= %s: %v", what, err)
					return
				}
				same := slices.Equal(l.Frame.Pix, m.frame.Pix) && slices.Equal(l.Frame.Palette, m.frame.Palette)
				if f == capture.XRGB8888 {
					same = l.Hash == HashFrame(m.frame)
				}
				s.say("= %s: right %v, moving %v, redrawn %v, took %v, %d bytes", what, same, l.Moving, l.Redrawn, l.Took, l.Bytes)
				if d := c.Drawn(); !slices.Equal(d.Pix, l.Frame.Pix) {
					t.Errorf("%s: drawn is another picture", what)
				}
			}
			if c.Drawn() != nil {
				t.Error("before a look something is drawn")
			}
			see("new", LookOptions{})
			see("again", LookOptions{Still: 10 * time.Millisecond, Latest: time.Second})
			m.counter++
			m.frame.Pix[5] ^= 3
			see("a cell", LookOptions{})
			old := m.frame.Clone()
			m.counter++
			m.frame.Pix[len(m.frame.Pix)-1] ^= 3
			m.frame.Pix[50*stride/max(1, 16/g.TileRows)] ^= 5
			see("two cells", LookOptions{})
			m.frame = old.Clone()
			m.counter++
			see("as before, which is offered", LookOptions{Known: []*capture.Frame{capture.NewFrame(3, 3, f), old}})
			for i := range m.frame.Pix {
				m.frame.Pix[i] = byte(i * i * 3 >> 5)
			}
			m.counter++
			see("all new", LookOptions{})
			rows := 5 * stride
			copy(m.frame.Pix, m.frame.Pix[rows:])
			m.counter++
			see("scrolled by five rows", LookOptions{})
			for y := range 40 {
				clear(m.frame.Pix[y*stride%len(m.frame.Pix):][:stride/2])
			}
			m.counter++
			see("half of it cleared", LookOptions{})
			m.hash = 99
			m.counter++
			see("another hash", LookOptions{})
			m.hash = 0
			turns := 0
			m.look = func() {
				if turns++; turns == 1 {
					m.generation++
				}
			}
			see("turned", LookOptions{})
			m.look = func() { m.generation++; m.generation &= 7 }
			see("turning", LookOptions{})
			hash, moving, err := c.Hash(ctx, LookOptions{})
			s.say("= %#x %v %v", hash, moving, err)
			_, moving, err = c.Glance(ctx, 0, 0)
			s.say("= %v %v", moving, err)
			m.look = nil
			m.bend = func(n int, kind byte, rs [][]byte) [][]byte {
				if kind == kindRead || kind == kindBands {
					m.counter++
				}
				return rs
			}
			see("drawn on while read", LookOptions{})
			m.bend = func(n int, kind byte, rs [][]byte) [][]byte {
				if kind == kindLook {
					rs[0] = rs[0][:9+7]
				}
				return rs
			}
			see("no hash", LookOptions{})
			m.bend = nil
			see("well again", LookOptions{})
			s.holds("look-" + f.String())
		})
	}
}

// A long picture, on a line without trouble and with: its parts, the length of its frames, and when the rest is asked
// for raw.
func TestWhatALongPictureSends(t *testing.T) {
	for _, tt := range []struct {
		name string
		fill func(i int) byte
		lose int // every so many requests' first piece
	}{
		{"noise", func(i int) byte { return byte(i*i>>3 ^ i) }, 0},
		{"half noise", func(i int) byte { return byte(i * i >> 3 * (i / 600 & 1)) }, 0},
		{"flat", func(i int) byte { return byte(i / 5000) }, 0},
		{"noise with losses", func(i int) byte { return byte(i*i>>3 ^ i) }, 3},
	} {
		t.Run(tt.name, func(t *testing.T) {
			m := newMock(320, 240, capture.RGB565LE)
			for i := range m.frame.Pix {
				m.frame.Pix[i] = tt.fill(i)
			}
			s, c := play(t, m, Options{})
			m.bend = func(n int, kind byte, rs [][]byte) [][]byte {
				if tt.lose > 0 && n%tt.lose == 0 && len(rs) > 1 {
					return rs[1:]
				}
				return rs
			}
			for range 2 {
				l, err := c.Look(t.Context(), LookOptions{})
				s.say("= %v, took %v, %d bytes, chunk %d, calm %v", err, l.Took, l.Bytes, c.pace.chunk, c.calm())
				if err == nil && !slices.Equal(l.Frame.Pix, m.frame.Pix) {
					t.Error("another picture")
				}
				c.last = nil
			}
			s.holds("long-" + strings.ReplaceAll(tt.name, " ", "-"))
		})
	}
}

// A device without a framebuffer: what the panel shows, as areas are flushed.
func TestWhatTheMirrorMakesOfAreas(t *testing.T) {
	ctx := t.Context()
	for _, f := range []capture.Format{capture.Grey8, capture.RGB565LE, capture.MonoRows, capture.MonoPages, capture.Grey2} {
		t.Run(f.String(), func(t *testing.T) {
			m := newMock(45, 21, f)
			m.hello.Can |= Strips
			s, c := play(t, m, Options{})
			flush := func(first uint16, areas ...[4]uint16) {
				m.flushed = binary.LittleEndian.AppendUint16(nil, first)
				for _, a := range areas {
					for _, v := range a {
						m.flushed = binary.LittleEndian.AppendUint16(m.flushed, v)
					}
				}
				m.areas = first + uint16(len(areas)) - 1
				m.counter++
			}
			see := func(what string, redraw bool) {
				l, err := c.Look(ctx, LookOptions{Redraw: redraw})
				if err != nil {
					s.say("= %s: %v", what, err)
					return
				}
				s.say("= %s: redrawn %v, as drawn %v, hash %x, mirror %d", what, l.Redrawn, slices.Equal(l.Frame.Pix, m.frame.Pix), l.Hash, c.mirror.areas)
			}
			flush(1, [4]uint16{0, 0, 45, 21})
			see("all", false)
			m.frame.Pix[0] ^= 0xff
			m.counter++
			see("drawn, not flushed", false)
			see("the same, redrawn", true)
			for i := range m.frame.Pix {
				m.frame.Pix[i] ^= byte(i)
			}
			flush(2, [4]uint16{3, 5, 6, 7}, [4]uint16{40, 18, 5, 3}, [4]uint16{30, 2, 90, 3})
			see("three areas", false)
			flush(6, [4]uint16{3, 5, 6, 7})
			see("an area that was missed", false)
			for i := range m.frame.Pix {
				m.frame.Pix[i] ^= byte(3 * i)
			}
			flush(9, [4]uint16{1, 1, 2, 2}, [4]uint16{0, 0, 45, 21}, [4]uint16{5, 5, 2, 2})
			see("areas that were missed, and then all", false)
			flush(12, [4]uint16{1, 1, 2, 2})
			m.flushed = m.flushed[:9]
			see("a list that is cut", false)
			m.flushed = m.flushed[:1]
			see("a list without a number", false)
			flush(12)
			see("an empty list", false)
			_, _, err := c.Hash(ctx, LookOptions{})
			s.say("= %v", err)
			m.bend = func(n int, kind byte, rs [][]byte) [][]byte {
				if kind == kindLook {
					rs[0] = rs[0][:len(rs[0])-1]
				}
				return rs
			}
			see("no number", false)
			m.bend = func(n int, kind byte, rs [][]byte) [][]byte {
				if kind == kindFlushed {
					m.counter++
				}
				return rs
			}
			flush(13, [4]uint16{1, 1, 2, 2})
			see("drawn meanwhile", false)
			s.holds("mirror-" + f.String())
		})
	}
}

// A picture painted on the panel, line by line, and the next of which only the difference is sent.
func TestWhatShowSends(t *testing.T) {
	m := newMock(300, 7, capture.RGB565LE)
	s, c := play(t, m, Options{})
	ctx := t.Context()
	a := image.NewNRGBA(image.Rect(-3, 2, 297, 9))
	draw.Draw(a, a.Rect, image.NewUniform(color.NRGBA{10, 20, 30, 255}), image.Point{}, draw.Src)
	for x := range 90 {
		a.SetNRGBA(x, 4, color.NRGBA{byte(x), 1, 2, 255})
	}
	s.say("= %v", c.Show(ctx, a, nil))
	s.say("= the same: %v", c.Show(ctx, a, a))
	b := image.NewNRGBA(a.Rect)
	copy(b.Pix, a.Pix)
	b.SetNRGBA(-3, 3, color.NRGBA{9, 9, 9, 255})
	b.SetNRGBA(296, 5, color.NRGBA{9, 9, 9, 255})
	draw.Draw(b, image.Rect(50, 6, 60, 9), image.White, image.Point{}, draw.Src)
	s.say("= %v", c.Show(ctx, b, a))
	for _, r := range []image.Rectangle{image.Rect(0, 0, 299, 7), image.Rect(0, 0, 300, 6)} {
		s.say("= %v", c.Show(ctx, image.NewNRGBA(r), nil))
	}
	m.code = codeBadValue
	s.say("= %v", c.Show(ctx, a, nil))
	s.holds("show")
}

// The known tiles that a codec learns from: those with most in them, near, and at most twice what is read.
func TestLessonByHand(t *testing.T) {
	f := capture.NewFrame(32*6, 16*8, capture.Grey8)
	g := f.Format.Grid(f.Width, f.Height)
	busy := func(tx, ty, n int) { // n edges in the tile
		for i := range n {
			f.Pix[(ty*16+i/15)*f.Width+tx*32+2*(i%15)+1] = 200
		}
	}
	for ty := range 8 {
		for tx := range 6 {
			busy(tx, ty, 5+tx+7*ty)
		}
	}
	var got strings.Builder
	for _, rects := range [][]tileRect{
		{{2, 3, 1, 1}}, {{0, 0, 2, 2}}, {{4, 6, 2, 2}}, {{1, 2, 3, 1}, {0, 5, 1, 1}}, {{0, 4, 6, 1}}, {{0, 0, 6, 8}}, {{0, 1, 6, 7}}, {{0, 0, 6, 7}}, {{1, 0, 5, 8}}, {{0, 0, 5, 8}},
		{{2, 2, 2, 2}, {2, 5, 2, 1}}, {{3, 0, 1, 8}}, {{0, 3, 2, 1}, {4, 3, 2, 1}}, {{5, 7, 1, 1}}, {{0, 0, 1, 1}}, {{1, 1, 1, 1}, {4, 6, 1, 1}, {2, 2, 2, 2}},
	} {
		need := make([]bool, g.Tiles*g.Bands)
		for _, r := range rects {
			for ty := r.y; ty < r.y+r.h; ty++ {
				for tx := r.x; tx < r.x+r.w; tx++ {
					need[int(ty)*g.Tiles+int(tx)] = true
				}
			}
		}
		l, ok := lesson(f, g, rects, need)
		fmt.Fprintf(&got, "%v: %d,%d %dx%d known %v %v\n", rects, l.x&^knownRect, l.y, l.w, l.h, l.x&knownRect != 0, ok)
		area := 0
		for _, r := range rects {
			area += int(r.w) * int(r.h)
		}
		if int(l.w)*int(l.h) > 2*area {
			t.Errorf("%v: %dx%d tiles to learn from are more than twice what is read", rects, l.w, l.h)
		}
		for ty := l.y; ok && ty < l.y+l.h; ty++ {
			for tx := l.x &^ knownRect; tx < l.x&^knownRect+l.w; tx++ {
				if need[int(ty)*g.Tiles+int(tx)] {
					t.Errorf("%v: tile %d,%d of the lesson is not known", rects, tx, ty)
				}
			}
		}
	}
	clear(f.Pix)
	if _, ok := lesson(f, g, []tileRect{{2, 3, 1, 1}}, make([]bool, g.Tiles*g.Bands)); ok {
		t.Error("something is to be learnt from tiles with nothing in them")
	}
	holdsText(t, "lessons", got.String())
	f.Pix[5*f.Width+40] = 1
	for _, tt := range [][5]int{{1, 0, 1, 1, 2}, {0, 0, 6, 8, 2}, {0, 0, 1, 1, 0}, {1, 1, 5, 7, 0}} {
		if n := edges(f, g, tt[0], tt[1], tt[2], tt[3]); n != tt[4] {
			t.Errorf("edges of %v: %d", tt, n)
		}
	}
	var seen []string
	runs(6, func(i int) bool { return i != 2 && i != 5 }, func(at, n int) { seen = append(seen, fmt.Sprint(at, n)) })
	runs(2, func(i int) bool { return i == 1 }, func(at, n int) { seen = append(seen, fmt.Sprint(at, n)) })
	if !slices.Equal(seen, []string{"0 2", "3 2", "1 1"}) {
		t.Errorf("runs %q", seen)
	}
}

// Every rectangle of needed tiles is asked for once, and no other tile.
func TestJoinByHand(t *testing.T) {
	for _, tt := range []struct{ tiles, want string }{
		{"....|....", ""},
		{"####|####", "[{0 0 4 2}]"},
		{"##..|##..|.##.", "[{0 0 2 2} {1 2 2 1}]"},
		{"#.#.|#.#.|#...|..#.", "[{0 0 1 3} {2 0 1 2} {2 3 1 1}]"},
		{".###|..##|..##", "[{1 0 3 1} {2 1 2 2}]"},
		{"...#|...#", "[{3 0 1 2}]"},
	} {
		rows := strings.Split(tt.tiles, "|")
		g := capture.Grid{Tiles: 4, Bands: len(rows)}
		var need []bool
		for _, r := range rows {
			for _, c := range r {
				need = append(need, c == '#')
			}
		}
		got := ""
		if r := join(need, g); r != nil {
			got = fmt.Sprint(r)
		}
		if got != tt.want {
			t.Errorf("%s: %s, want %s", tt.tiles, got, tt.want)
		}
	}
}
