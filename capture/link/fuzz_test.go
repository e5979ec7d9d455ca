package link

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/fascia-bench/fascia/capture"
)

// seeds returns the committed inputs of a fuzz target: those that once broke the code, and some
// that are near to doing so.
func seeds(f *testing.F) [][]byte {
	f.Helper()
	files, err := filepath.Glob(filepath.Join("testdata", f.Name(), "*"))
	if err != nil || len(files) == 0 {
		f.Fatalf("testdata/%s holds no seeds: %v", f.Name(), err)
	}
	var s [][]byte
	for _, file := range files {
		b, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		s = append(s, b)
	}
	return s
}

// What decodes comes back when encoded again, but for the way a full last block is written.
func FuzzFrame(f *testing.F) {
	for _, w := range workedFrames(f) {
		f.Add(w.wire[1 : len(w.wire)-1])
	}
	for _, b := range seeds(f) {
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, between []byte) {
		body, err := DecodeFrame(between)
		if err != nil {
			return
		}
		wire := EncodeFrame(body)
		again, err := DecodeFrame(wire[1 : len(wire)-1])
		if err != nil || !bytes.Equal(again, body) {
			t.Errorf("% x came back as % x, %v", body, again, err)
		}
		if bytes.IndexByte(wire[1:len(wire)-1], 0) >= 0 {
			t.Errorf("a zero inside % x", wire)
		}
	})
}

// However the bytes of a line are cut up, the same frames, lines and noise come out; nothing is
// kept for ever, and nothing is counted twice.
func FuzzSplitter(f *testing.F) {
	var all []byte
	for i, w := range workedFrames(f) {
		all = append(all, w.wire...)
		if i%3 == 0 {
			all = append(all, "a line of log, grün\r\n"...)
		}
	}
	f.Add(all, uint8(7))
	f.Add([]byte("boot\nhalf a line\x00\x00more\n"), uint8(1))
	for _, b := range seeds(f) {
		f.Add(b, uint8(3))
	}
	f.Fuzz(func(t *testing.T, line []byte, cut uint8) {
		run := func(size int) (frames [][]byte, passed int, kept int) {
			s := splitter{
				frame: func(b []byte) { frames = append(frames, bytes.Clone(b)); passed += len(b) },
				line:  func(l string) { passed += len(l) },
				noise: func(n int) { passed += n },
			}
			for rest := line; len(rest) > 0; {
				n := min(size, len(rest))
				s.feed(rest[:n])
				rest = rest[n:]
			}
			return frames, passed, len(s.pending)
		}
		whole, passed, _ := run(len(line) + 1)
		if passed > len(line) {
			t.Errorf("%d bytes became %d", len(line), passed)
		}
		cutUp, passed, kept := run(int(cut) + 1)
		if passed > len(line) || kept > 2*MaxBody+256 {
			t.Errorf("%d bytes, %d at a time, became %d, and %d are kept", len(line), cut+1, passed, kept)
		}
		if len(line) > MaxBody {
			return // a line without end is cut where it stands
		}
		if len(whole) != len(cutUp) {
			t.Fatalf("%d frames at once, %d when fed %d bytes at a time", len(whole), len(cutUp), cut+1)
		}
		for i := range whole {
			if !bytes.Equal(whole[i], cutUp[i]) {
				t.Errorf("frame %d depends on how the bytes arrive", i)
			}
		}
	})
}

// Coded pixels fill exactly the rectangles asked for, or are refused; nothing outside is touched.
func FuzzPixels(f *testing.F) {
	f.Add(uint8(5), uint8(40), uint8(18), uint8(1), []byte{}, []byte("\x3f\xd0\xd0\x7e\x3e\xe0\xff\x06"))
	f.Add(uint8(8), uint8(33), uint8(17), uint8(0), []byte{1, 1, 1, 1}, []byte{1, 2})
	f.Add(uint8(11), uint8(3), uint8(3), uint8(1), []byte{0, 0, 1, 1}, []byte{0xe8, 1, 2, 3})
	f.Add(uint8(7), uint8(63), uint8(31), uint8(2), []byte{0, 0, 2, 2}, []byte("\x80\x01\xfe\x33 dense"))
	f.Add(uint8(7), uint8(63), uint8(31), uint8(131), []byte{0, 0, 1, 1}, []byte("\x80\x01\xfe\x33 keyed"))
	for _, b := range seeds(f) {
		f.Add(uint8(9), uint8(70), uint8(40), uint8(1), []byte{1, 0, 1, 2}, b)
	}
	f.Fuzz(func(t *testing.T, format, width, height, codec uint8, where, data []byte) {
		fm := capture.Format(format%11) + 1
		frame := capture.NewFrame(int(width)+1, int(height)+1, fm)
		g := fm.Grid(frame.Width, frame.Height)
		var rects []tileRect
		if len(where) >= 4 {
			r := tileRect{where[0] % byte(g.Tiles), where[1] % byte(g.Bands), 1, 1}
			r.w += where[2] % (byte(g.Tiles) - r.x)
			r.h += where[3] % (byte(g.Bands) - r.y)
			rects = []tileRect{r}
			if codec >= 128 && Codec(codec%4) == CodecKeyed { // learnt from first
				rects = []tileRect{r, {r.x | knownRect, r.y, r.w, r.h}, r}
			}
		}
		for i := range frame.Pix {
			frame.Pix[i] = 0xa5
		}
		err := decodePixels(frame, rects, Codec(codec%4), data)
		if len(rects) == 0 {
			return
		}
		r, stride := rects[0], g.Cells*g.CellBytes
		for i, b := range frame.Pix {
			x, y := i%stride/g.CellBytes, i/stride
			inside := x/g.TileCells >= int(r.x) && x/g.TileCells < int(r.x+r.w) && y/g.TileRows >= int(r.y) && y/g.TileRows < int(r.y+r.h)
			if !inside && b != 0xa5 {
				t.Fatalf("cell %d,%d lies outside %+v and was written, %v", x, y, r, err)
			}
		}
	})
}

// Whatever a device answers, the host refuses it or has a hello that it can work with.
func FuzzReply(f *testing.F) {
	for _, w := range workedFrames(f) {
		body, err := DecodeFrame(w.wire[1 : len(w.wire)-1])
		if err != nil {
			f.Fatal(err)
		}
		f.Add(body)
	}
	for _, b := range seeds(f) {
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, body []byte) {
		r, ok := parseReply(body)
		if !ok {
			return
		}
		p, ok := parsePiece(r.payload)
		if !ok {
			return
		}
		h, err := parseHello(p.data)
		if err != nil {
			return
		}
		if !h.Format.Valid() || h.Width < 1 || h.Height < 1 || h.Width > MaxSide || h.Height > MaxSide || h.MaxRequest < 64 || h.Colours > 256 {
			t.Errorf("an impossible device was let in: %+v", h)
		}
	})
}

// Pieces in any order and of any size make a stream or none; never one with a hole.
func FuzzStitch(f *testing.F) {
	f.Add([]byte{0, 0, 0, 1, 2, 0, 2, 0, 0, 3, 1})
	for _, b := range seeds(f) {
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		s := newStitch()
		for len(b) >= 5 {
			n := min(int(b[3])%16, len(b)-5)
			p, ok := parsePiece(append([]byte{b[0], 0, 0}, b[5-1:5+n]...))
			b = b[5+n:]
			if !ok {
				continue
			}
			before := len(s.data)
			if grew := s.add(p); len(s.data) != before+grew {
				t.Fatal("add does not say by how much it grew")
			}
			if g := s.gap(); g < 0 || (g > 0 && s.early[len(s.data)+g] == nil) {
				t.Fatalf("gap %d leads nowhere", g)
			}
		}
	})
}
