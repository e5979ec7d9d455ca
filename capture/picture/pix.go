package picture

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"image"
	"image/color"
	"image/draw"
)

// Pix returns a copy of img as a panel would show it: its top left at (0, 0), eight bits a channel,
// every pixel opaque, rows without gaps (Stride is 4*width).
//
// Translucent pixels are blended over black, which is a panel with nothing behind them, and 16-bit
// samples lose their low byte (PNG specification, third edition, section 13.12 "Sample depth
// rescaling", the method by shifting). Both are what package image does when it converts colours, so
// whoever converts by other means of that package sees the same pixels.
func Pix(img image.Image) *image.NRGBA {
	b := img.Bounds()
	out := image.NewNRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	switch src := img.(type) {
	case *image.NRGBA:
		for y := range b.Dy() {
			row := out.Pix[y*out.Stride:][:4*b.Dx()]
			copy(row, src.Pix[src.PixOffset(b.Min.X, b.Min.Y+y):])
			for i := 0; i < len(row); i += 4 {
				if row[i+3] != 0xff {
					r, g, b, _ := color.NRGBA{row[i], row[i+1], row[i+2], row[i+3]}.RGBA()
					row[i], row[i+1], row[i+2], row[i+3] = byte(r>>8), byte(g>>8), byte(b>>8), 0xff
				}
			}
		}
	case *image.Gray:
		for y := range b.Dy() {
			row := out.Pix[y*out.Stride:]
			for x, v := range src.Pix[src.PixOffset(b.Min.X, b.Min.Y+y):][:b.Dx()] {
				row[4*x], row[4*x+1], row[4*x+2], row[4*x+3] = v, v, v, 0xff
			}
		}
	case *image.Paletted:
		fromPalette(out, src)
	default:
		// Premultiplied colour is colour over black: draw it so, then declare it opaque.
		over := &image.RGBA{Pix: out.Pix, Stride: out.Stride, Rect: out.Rect}
		draw.Draw(over, over.Rect, img, b.Min, draw.Src)
		for i := 3; i < len(out.Pix); i += 4 {
			out.Pix[i] = 0xff
		}
	}
	return out
}

// fromPalette fills out with the colours that stand for src's indexes. Most panels' pictures are stored so.
func fromPalette(out *image.NRGBA, src *image.Paletted) {
	table := make([][4]byte, max(256, len(src.Palette))) // an index past the palette is no colour: black
	for i := range table {
		table[i][3] = 0xff
	}
	for i, c := range src.Palette {
		r, g, b, _ := c.RGBA()
		table[i] = [4]byte{byte(r >> 8), byte(g >> 8), byte(b >> 8), 0xff}
	}
	b := src.Rect
	for y := range b.Dy() {
		row := out.Pix[y*out.Stride:]
		for x, v := range src.Pix[src.PixOffset(b.Min.X, b.Min.Y+y):][:b.Dx()] {
			copy(row[4*x:4*x+4], table[v][:])
		}
	}
}

// Hash returns the SHA-256 of a picture's pixels in lower-case hex: of the picture, as [Pix] has it,
// written as a binary PPM with the shortest header, "P6\n<width> <height>\n255\n" and then red, green
// and blue of every pixel, rows from the top. So anybody can recompute it with everyday tools:
//
//	pngtopnm home.png | sha256sum                        (netpbm; a grey PNG needs ppmtoppm in between)
//	ffmpeg -i home.png -f image2pipe -c:v ppm - | sha256sum
//
// Neither the file's format nor its compression enters into it.
func Hash(img image.Image) string {
	p := Pix(img)
	h := sha256.New()
	fmt.Fprintf(h, "P6\n%d %d\n255\n", p.Rect.Dx(), p.Rect.Dy())
	row := make([]byte, 3*p.Rect.Dx())
	for y := range p.Rect.Dy() {
		src := p.Pix[y*p.Stride:]
		for x := range p.Rect.Dx() {
			copy(row[3*x:3*x+3], src[4*x:4*x+3])
		}
		h.Write(row)
	}
	return hex.EncodeToString(h.Sum(nil))
}
