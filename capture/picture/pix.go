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
	fill := rows(img)
	for y := range b.Dy() {
		fill(out.Pix[y*out.Stride:][:4*b.Dx()], y)
	}
	return out
}

// rows returns what fills a row of Pix, the y-th from the top.
func rows(img image.Image) func(row []byte, y int) {
	b := img.Bounds()
	switch src := img.(type) {
	case *image.NRGBA:
		return func(row []byte, y int) {
			copy(row, src.Pix[src.PixOffset(b.Min.X, b.Min.Y+y):])
			for i := 0; i < len(row); i += 4 {
				if row[i+3] != 0xff {
					r, g, b, _ := color.NRGBA{row[i], row[i+1], row[i+2], row[i+3]}.RGBA()
					row[i], row[i+1], row[i+2], row[i+3] = byte(r>>8), byte(g>>8), byte(b>>8), 0xff
				}
			}
		}
	case *image.Gray:
		return func(row []byte, y int) {
			for x, v := range src.Pix[src.PixOffset(b.Min.X, b.Min.Y+y):][:b.Dx()] {
				row[4*x], row[4*x+1], row[4*x+2], row[4*x+3] = v, v, v, 0xff
			}
		}
	case *image.Paletted: // most panels' pictures are stored so
		table := opaque(src.Palette)
		return func(row []byte, y int) {
			for x, v := range src.Pix[src.PixOffset(b.Min.X, b.Min.Y+y):][:b.Dx()] {
				copy(row[4*x:4*x+4], table[v][:])
			}
		}
	}
	return func(row []byte, y int) {
		// Premultiplied colour is colour over black: draw it so, then declare it opaque.
		over := &image.RGBA{Pix: row, Stride: len(row), Rect: image.Rect(0, 0, b.Dx(), 1)}
		draw.Draw(over, over.Rect, img, b.Min.Add(image.Pt(0, y)), draw.Src)
		for i := 3; i < len(row); i += 4 {
			row[i] = 0xff
		}
	}
}

// opaque gives the bytes of each colour of a palette; an index past it is no colour: black.
func opaque(p color.Palette) [][4]byte {
	table := make([][4]byte, max(256, len(p)))
	for i := range table {
		table[i][3] = 0xff
	}
	for i, c := range p {
		r, g, b, _ := c.RGBA()
		table[i] = [4]byte{byte(r >> 8), byte(g >> 8), byte(b >> 8), 0xff}
	}
	return table
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
	width, height := img.Bounds().Dx(), img.Bounds().Dy()
	h := sha256.New()
	fmt.Fprintf(h, "P6\n%d %d\n255\n", width, height)
	fill, wide, row := rows(img), make([]byte, 4*width), make([]byte, 3*width)
	for y := range height {
		fill(wide, y)
		for x := range width {
			copy(row[3*x:3*x+3], wide[4*x:4*x+4])
		}
		h.Write(row)
	}
	return hex.EncodeToString(h.Sum(nil))
}
