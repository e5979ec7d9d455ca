package picture

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"slices"
	"sync"

	"github.com/fascia-bench/fascia/capture/picture/whole"
)

// EncodePNG writes img to w as a PNG, small and byte-stable: the same pixels, as [Pix] has them,
// give the same bytes whatever type img is.
//
// Up to 256 colours are written as an indexed picture, its palette sorted by red, green, blue and its
// depth (1, 2, 4 or 8 bits) the least that holds it; more as 8-bit RGB. No time, text or other extra
// is written. The compressor is the standard library's, so another release of Go may pack the same
// pixels into other bytes; that is why goldens are known by [Hash], not by their files.
func EncodePNG(w io.Writer, img image.Image) error {
	p := Pix(img)
	var out image.Image = p
	if pal := palette(p); pal != nil {
		out = indexed(p, pal)
	}
	enc := png.Encoder{CompressionLevel: png.BestCompression, BufferPool: &buffers}
	if err := enc.Encode(w, out); err != nil {
		return fmt.Errorf("write PNG: %w", err)
	}
	return nil
}

// buffers keeps the encoder's tables, about 1 MB, from one picture of a run to the next.
var buffers pool

type pool struct{ p sync.Pool }

func (b *pool) Get() *png.EncoderBuffer {
	e, _ := b.p.Get().(*png.EncoderBuffer)
	return e // nil makes the encoder bring its own
}

func (b *pool) Put(e *png.EncoderBuffer) { b.p.Put(e) }

// palette returns the colours of p in order, or nil if there are more than 256.
func palette(p *image.NRGBA) []color.NRGBA {
	seen := make(map[color.NRGBA]bool, 256)
	var last color.NRGBA // runs of one colour are the rule on panels; alpha 0 matches no pixel
	for i := 0; i < len(p.Pix); i += 4 {
		c := color.NRGBA{p.Pix[i], p.Pix[i+1], p.Pix[i+2], 0xff}
		if c == last {
			continue
		}
		last = c
		if !seen[c] {
			if len(seen) == 256 {
				return nil
			}
			seen[c] = true
		}
	}
	out := make([]color.NRGBA, 0, len(seen))
	for c := range seen {
		out = append(out, c)
	}
	slices.SortFunc(out, func(a, b color.NRGBA) int {
		return (int(a.R)<<16 | int(a.G)<<8 | int(a.B)) - (int(b.R)<<16 | int(b.G)<<8 | int(b.B))
	})
	return out
}

func indexed(p *image.NRGBA, colours []color.NRGBA) *image.Paletted {
	index := make(map[color.NRGBA]uint8, len(colours))
	pal := make(color.Palette, len(colours))
	for i, c := range colours {
		index[c], pal[i] = uint8(i), c
	}
	out := image.NewPaletted(p.Rect, pal)
	for i := range out.Pix {
		out.Pix[i] = index[color.NRGBA{p.Pix[4*i], p.Pix[4*i+1], p.Pix[4*i+2], 0xff}]
	}
	return out
}

// WritePNG writes img to path as [EncodePNG] does. The file appears whole or not at all: the bytes
// go to a temporary file beside it, reach the disk, and then take its name. The folder must exist.
func WritePNG(path string, img image.Image) error {
	var buf bytes.Buffer
	if err := EncodePNG(&buf, img); err != nil {
		return fmt.Errorf("write picture %q: %w", path, err)
	}
	if err := whole.Write(path, buf.Bytes()); err != nil {
		return fmt.Errorf("write picture %q: %w", path, err)
	}
	return nil
}
