package picture

import (
	"bytes"
	"image/color"
	"testing"
)

type pnmCase struct {
	name, why string
	in        string
	want      []color.Color // rows from the top
}

func pnmCases() []pnmCase {
	black, white := color.Gray{0}, color.Gray{255}
	return []pnmCase{
		{"plain ppm", "the example form of STYLE.md", "P3 2 1 255  0 0 0  9 0 0\n",
			[]color.Color{color.NRGBA{0, 0, 0, 255}, color.NRGBA{9, 0, 0, 255}}},
		{"comments", "ppm(5): from # to the end of the line, anywhere before the raster",
			"P3# one\n#two\n1 #three\r2\n# four\n255 0 0 0 # five\n1 2 3",
			[]color.Color{color.NRGBA{0, 0, 0, 255}, color.NRGBA{1, 2, 3, 255}}},
		{"comment touches a number", "ppm(5): a comment may interrupt a word's end", "P2 2#\n1 255#\n7 8",
			[]color.Color{color.Gray{7}, color.Gray{8}}},
		{"binary ppm", "one white-space character ends the header, even if the raster looks like space",
			"P6 1 1 255 \n \n", []color.Color{color.NRGBA{'\n', ' ', '\n', 255}}},
		{"raster starts with #", "no comment in a binary raster", "P5 2 1 255\n#a", []color.Color{color.Gray{'#'}, color.Gray{'a'}}},
		{"maxval 31", "scaled to the full range and rounded: 16*255/31 = 131.6", "P2 3 1 31 0 16 31",
			[]color.Color{color.Gray{0}, color.Gray{132}, color.Gray{255}}},
		{"maxval 65535", "big endian", "P5 1 1 65535\n\x12\x34", []color.Color{color.Gray16{0x1234}}},
		{"maxval 1023", "scaled to 16 bits: 512*65535/1023 = 32799.5, rounded", "P2 2 1 1023 512 1023",
			[]color.Color{color.Gray16{32800}, color.Gray16{65535}}},
		{"plain 16-bit ppm", "three channels of 16 bits", "P3 1 1 65535 1 256 65535",
			[]color.Color{color.NRGBA64{1, 256, 65535, 65535}}},
		{"plain pbm", "pbm(5): 1 is black, and digits need no space", "P1 3 1 010", []color.Color{white, black, white}},
		{"binary pbm", "pbm(5): highest bit first, rows padded to whole bytes", "P4 3 2\n\x5f\x80",
			[]color.Color{white, black, white, black, white, white}},
	}
}

func TestPNM(t *testing.T) {
	for _, tt := range pnmCases() {
		t.Run(tt.name, func(t *testing.T) {
			img, err := Decode(bytes.NewReader([]byte(tt.in)), tt.name)
			if err != nil {
				t.Fatalf("%v: %s", err, tt.why)
			}
			w := img.Bounds().Dx()
			if w*img.Bounds().Dy() != len(tt.want) {
				t.Fatalf("size %v, want %d pixels: %s", img.Bounds(), len(tt.want), tt.why)
			}
			for i, want := range tt.want {
				if got := img.At(i%w, i/w); got != want {
					t.Errorf("pixel %d,%d is %v, want %v: %s", i%w, i/w, got, want, tt.why)
				}
			}
		})
	}
}
