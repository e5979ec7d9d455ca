package link

import (
	"errors"
	"fmt"

	"github.com/fascia-bench/fascia/capture"
)

// Codec says how READ codes pixels.
type Codec byte

// The codecs of protocol version 1.
const (
	CodecRaw   Codec = 0
	CodecRuns  Codec = 1
	CodecDense Codec = 2 // of agents before CodecKeyed
	CodecKeyed Codec = 3 // where the device has it
)

// ErrPixels means that coded pixels do not decode to exactly the rectangles asked for.
var ErrPixels = errors.New("link: coded pixels do not fit the rectangles")

// A tileRect is a rectangle of tiles, as READ asks for them. With CodecKeyed the high bit of x means that the host
// knows it: it is coded to learn from, and not sent.
type tileRect struct{ x, y, w, h byte }

const knownRect = 0x80

// A scan walks the cells of rectangles in the order in which they are coded.
type scan struct {
	f              *capture.Frame
	g              capture.Grid
	rects          []tileRect
	x, y           int
	x0, y0, x1, y1 int
	width          int  // bytes of a coded cell
	done           int  // cells
	known          bool // the rectangle at hand is
}

func newScan(f *capture.Frame, rects []tileRect) *scan {
	s := &scan{f: f, g: f.Format.Grid(f.Width, f.Height), rects: rects}
	if len(rects) == 0 {
		s.rects = []tileRect{{0, 0, byte(s.g.Tiles), byte(s.g.Bands)}}
	}
	s.width = min(s.g.CellBytes, 3)
	return s
}

// more moves into the next rectangle when the last is used up; false at the end.
func (s *scan) more() bool {
	if s.y < s.y1 {
		return true
	}
	if len(s.rects) == 0 {
		return false
	}
	r := s.rects[0]
	s.rects = s.rects[1:]
	s.known = r.x&knownRect != 0
	s.x0, s.y0 = int(r.x&^knownRect)*s.g.TileCells, int(r.y)*s.g.TileRows
	s.x1 = min(s.x0+int(r.w)*s.g.TileCells, s.g.Cells)
	s.y1 = min(s.y0+int(r.h)*s.g.TileRows, s.g.Rows)
	s.x, s.y = s.x0, s.y0
	return s.x0 < s.x1 && s.y0 < s.y1
}

func (s *scan) at(x, y int) []byte {
	return s.f.Pix[(y*s.g.Cells+x)*s.g.CellBytes:][:s.g.CellBytes]
}

func (s *scan) step() {
	s.done++
	if s.x++; s.x == s.x1 {
		s.x = s.x0
		s.y++
	}
}

// value reads a cell as a number, channels in their order whatever the bytes' order is.
func (s *scan) value(b []byte) uint32 {
	if s.f.Format == capture.RGB565BE {
		return uint32(b[0])<<8 | uint32(b[1])
	}
	var v uint32
	for i := s.width - 1; i >= 0; i-- {
		v = v<<8 | uint32(b[i])
	}
	return v
}

func (s *scan) put(v uint32) {
	b := s.at(s.x, s.y)
	if s.f.Format == capture.RGB565BE {
		b[0], b[1] = byte(v>>8), byte(v)
		return
	}
	for i := range s.width {
		b[i] = byte(v >> (8 * i))
	}
}

// decodePixels fills the rectangles of f from coded pixels.
func decodePixels(f *capture.Frame, rects []tileRect, codec Codec, data []byte) error {
	s := newScan(f, rects)
	switch codec {
	case CodecRaw:
		rest, err := decodeRaw(s, data)
		if err != nil {
			return err
		}
		data = rest
	case CodecRuns:
		rest, err := decodeRuns(s, data)
		if err != nil {
			return err
		}
		data = rest
	case CodecDense:
		return decodeDense(s, data)
	case CodecKeyed:
		return decodeKeyed(s, data)
	default:
		return fmt.Errorf("link: unknown codec %d", codec)
	}
	if len(data) != 0 || s.more() {
		return fmt.Errorf("%w: %d bytes left over", ErrPixels, len(data))
	}
	return nil
}

// errEarly is an ErrPixels: there are fewer than the rectangles take. The scan stands behind the last cell that was there.
var errEarly = fmt.Errorf("%w: they end early", ErrPixels)

// decodeRaw takes cells as they are until the rectangles are full.
func decodeRaw(s *scan, data []byte) ([]byte, error) {
	for s.more() {
		if len(data) < s.width {
			return nil, errEarly
		}
		s.put(s.value(data))
		data = data[s.width:]
		s.step()
	}
	return data, nil
}

// decodeRuns undoes the run codec of PROTOCOL.md until the rectangles are full.
func decodeRuns(s *scan, data []byte) ([]byte, error) {
	var left uint32
	var cache [64]uint32
	remember := func(v uint32) { left = v; cache[v*0x9e3779b1>>26] = v }
	for s.more() {
		if len(data) == 0 {
			return nil, errEarly
		}
		op := data[0]
		data = data[1:]
		switch {
		case op < 0x80:
			n := int(op&63) + 1
			switch op & 63 {
			case 62:
				if len(data) < 1 {
					return nil, errEarly
				}
				n, data = int(data[0])+62, data[1:]
			case 63:
				if len(data) < 2 {
					return nil, errEarly
				}
				n, data = int(data[0])|int(data[1])<<8, data[2:]
			}
			if n == 0 {
				return nil, fmt.Errorf("%w: a run of nothing", ErrPixels)
			}
			for ; n > 0; n-- {
				if !s.more() {
					return nil, fmt.Errorf("%w: a run goes past them", ErrPixels)
				}
				if op >= 0x40 {
					if s.y == s.y0 {
						return nil, fmt.Errorf("%w: a run of the row above the first", ErrPixels)
					}
					left = s.value(s.at(s.x, s.y-1))
				}
				s.put(left)
				s.step()
			}
		case op < 0xc0:
			v := cache[op&63]
			s.put(v)
			s.step()
			remember(v)
		case op < 0xe0:
			v, ok := stepped(s.f.Format, left, op&31)
			if !ok {
				return nil, fmt.Errorf("%w: op %#02x has no meaning", ErrPixels, op)
			}
			s.put(v)
			s.step()
			remember(v)
		default:
			for n := int(op&31) + 1; n > 0; n-- {
				if !s.more() {
					return nil, fmt.Errorf("%w: literals go past them", ErrPixels)
				}
				if len(data) < s.width {
					return nil, errEarly
				}
				v := s.value(data)
				data = data[s.width:]
				s.put(v)
				s.step()
				remember(v)
			}
		}
	}
	return data, nil
}

// stepped applies a small step code, -1, 0 or 1 in each channel, to the cell on the left. It is added to the cell's
// number as a whole, as the device subtracts: a channel that would wrap carries into the next.
func stepped(f capture.Format, left uint32, code byte) (uint32, bool) {
	if code >= 27 {
		return 0, false
	}
	r, g, b := uint32(code/9)-1, uint32(code/3%3)-1, uint32(code%3)-1
	switch f {
	case capture.Grey8:
		return (left + uint32(code) - 13) & 0xff, true
	case capture.RGB565LE, capture.RGB565BE:
		return (left + r<<11 + g<<5 + b) & 0xffff, true
	case capture.RGB888, capture.XRGB8888:
		return (left + r<<16 + g<<8 + b) & 0xffffff, true
	}
	return 0, false
}
