package picture

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"image"
	"image/color"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestPNGSuite holds every kind of PNG (bilevel to 16-bit, grey, colour, indexed, alpha, transparent
// colour, interlaced) of the published PngSuite against another decoder's samples, alpha kept apart.
// Source of pictures and sums: testdata/README.md.
func TestPNGSuite(t *testing.T) {
	f, err := os.Open("testdata/pngsuite.sha256")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	files := 0
	for sc := bufio.NewScanner(f); sc.Scan(); files++ {
		field := strings.Fields(sc.Text())
		want, layout, name := field[0], field[1], field[2]
		t.Run(name, func(t *testing.T) {
			img, err := Read(filepath.Join("testdata", "pngsuite", name))
			if err != nil {
				t.Fatal(err)
			}
			if got := straight(img, layout); got != want {
				t.Errorf("samples as %s hash to %s, want %s", layout, got, want)
			}
		})
	}
	if have, _ := filepath.Glob("testdata/pngsuite/*.png"); files < 30 || len(have) != files {
		t.Errorf("%d sums for %d pictures, want the same number and at least 30", files, len(have))
	}
}

// straight hashes the samples of img, not premultiplied, in the byte layout that FFmpeg calls rgba
// (8 bits) or rgba64be (16 bits, big endian).
func straight(img image.Image, layout string) string {
	h := sha256.New()
	b := img.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			switch c := img.At(x, y); layout {
			case "rgba":
				n := color.NRGBAModel.Convert(c).(color.NRGBA)
				h.Write([]byte{n.R, n.G, n.B, n.A})
			case "rgba64be":
				n, ok := c.(color.NRGBA64)
				if !ok {
					n = color.NRGBA64Model.Convert(c).(color.NRGBA64)
				}
				h.Write([]byte{byte(n.R >> 8), byte(n.R), byte(n.G >> 8), byte(n.G), byte(n.B >> 8), byte(n.B), byte(n.A >> 8), byte(n.A)})
			}
		}
	}
	return hex.EncodeToString(h.Sum(nil))
}
