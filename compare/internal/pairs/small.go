package pairs

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
)

// Kind is a way in which a picture may be handed over.
type Kind int

const (
	RGBA        Kind = iota // as drawn
	OddOrigin               // with Bounds that start elsewhere
	PNG8                    // through an 8-bit PNG
	PNG16                   // through a 16-bit PNG
	Indexed                 // through an indexed PNG
	Translucent             // through a PNG with alpha, opaque nearly everywhere
	Interlaced              // through an Adam7 interlaced PNG
	Kinds
)

// Small is a pair that differs in at most one pixel, by one level of one channel, with
// masks beside and over it.
type Small struct {
	Golden, Capture image.Image
	Kind            Kind
	Changed         bool // a pixel differs
	At              image.Point
	Ignore          []image.Rectangle
	Hidden          bool // the change lies under a mask
}

// Small makes a pair of a piece of a screen, unchanged in every third case.
func (s *Source) Small() Small {
	r := s.rng
	if s.piece == nil || r.IntN(50) == 0 {
		_, s.piece = s.base()
	}
	m := s.piece
	w, h := 1+r.IntN(40), 1+r.IntN(30)
	x0, y0 := r.IntN(max(1, m.Rect.Dx()-w)), r.IntN(max(1, m.Rect.Dy()-h))
	g := place(w, h, func(x, y int) color.RGBA { return m.RGBAAt(x0+x, y0+y) })
	c := clone(g)
	out := Small{Kind: Kind(r.IntN(int(Kinds)))}
	if r.IntN(3) > 0 {
		out.Changed = true
		out.At = image.Pt(r.IntN(w), r.IntN(h))
		i := c.PixOffset(out.At.X, out.At.Y) + r.IntN(3)
		if c.Pix[i] == 255 || c.Pix[i] > 0 && r.IntN(2) == 0 {
			c.Pix[i]--
		} else {
			c.Pix[i]++
		}
		// A mask that ends right at the pixel, or has it as its last one.
		b := image.Rect(out.At.X-r.IntN(6), out.At.Y-r.IntN(6), out.At.X+1, out.At.Y+1)
		switch r.IntN(4) {
		case 0:
			out.Hidden = true
			out.Ignore = []image.Rectangle{b}
		case 1:
			out.Ignore = []image.Rectangle{b.Sub(image.Pt(b.Dx(), 0)), b.Add(image.Pt(b.Dx(), 0)), b.Add(image.Pt(0, b.Dy()))}
		}
	}
	out.Golden, out.Capture = image.Image(g), s.as(c, out.Kind)
	if r.IntN(2) == 0 {
		out.Golden = s.as(g, out.Kind)
	}
	return out
}

// as hands a picture over in the way named.
func (s *Source) as(m *image.RGBA, k Kind) image.Image {
	switch k {
	case OddOrigin:
		b := m.Rect.Add(image.Pt(s.rng.IntN(21)-10, s.rng.IntN(21)-10))
		out := image.NewRGBA(b)
		copy(out.Pix, m.Pix)
		return out
	case PNG8:
		return throughPNG(m)
	case PNG16:
		out := image.NewNRGBA64(m.Rect)
		for y := range m.Rect.Dy() {
			for x := range m.Rect.Dx() {
				out.Set(x, y, m.RGBAAt(x, y))
			}
		}
		return throughPNG(out)
	case Indexed:
		index := map[color.RGBA]uint8{}
		var pal color.Palette
		for i := 0; i < len(m.Pix); i += 4 {
			c := color.RGBA{m.Pix[i], m.Pix[i+1], m.Pix[i+2], 255}
			if _, ok := index[c]; !ok {
				if len(pal) == 256 {
					return throughPNG(m)
				}
				index[c] = uint8(len(pal))
				pal = append(pal, c)
			}
		}
		out := image.NewPaletted(m.Rect, pal)
		for y := range m.Rect.Dy() {
			for x := range m.Rect.Dx() {
				out.SetColorIndex(x, y, index[m.RGBAAt(x, y)])
			}
		}
		return throughPNG(out)
	case Translucent:
		out := image.NewNRGBA(m.Rect)
		copy(out.Pix, m.Pix)
		for i := 0; i < len(out.Pix); i += 4 {
			if out.Pix[i]|out.Pix[i+1]|out.Pix[i+2] == 0 { // black is black at any alpha
				out.Pix[i+3] = uint8(s.rng.IntN(256))
			}
		}
		return throughPNG(out)
	case Interlaced:
		out, err := png.Decode(bytes.NewReader(interlacedPNG(m)))
		if err != nil {
			panic(err) // our own encoder
		}
		return out
	}
	return m
}

func throughPNG(m image.Image) image.Image {
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.NoCompression}).Encode(&b, m); err != nil {
		panic(err) // a picture of our own
	}
	out, err := png.Decode(&b)
	if err != nil {
		panic(err)
	}
	return out
}

// interlacedPNG writes an 8-bit RGB PNG with Adam7 interlacing (W3C PNG specification,
// second edition, section 8.2), which the standard library reads but does not write.
func interlacedPNG(m *image.RGBA) []byte {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	var raw bytes.Buffer
	z := zlib.NewWriter(&raw)
	for _, p := range []struct{ x, y, dx, dy int }{{0, 0, 8, 8}, {4, 0, 8, 8}, {0, 4, 4, 8}, {2, 0, 4, 4}, {0, 2, 2, 4}, {1, 0, 2, 2}, {0, 1, 1, 2}} {
		if p.x >= w {
			continue
		}
		for y := p.y; y < h; y += p.dy {
			line := []byte{0}
			for x := p.x; x < w; x += p.dx {
				c := m.RGBAAt(x, y)
				line = append(line, c.R, c.G, c.B)
			}
			z.Write(line)
		}
	}
	z.Close()
	out := []byte("\x89PNG\r\n\x1a\n")
	chunk := func(name string, data []byte) {
		out = binary.BigEndian.AppendUint32(out, uint32(len(data)))
		body := append([]byte(name), data...)
		out = append(out, body...)
		out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(body))
	}
	var head []byte
	head = binary.BigEndian.AppendUint32(head, uint32(w))
	head = binary.BigEndian.AppendUint32(head, uint32(h))
	head = append(head, 8, 2, 0, 0, 1)
	chunk("IHDR", head)
	chunk("IDAT", raw.Bytes())
	chunk("IEND", nil)
	return out
}
