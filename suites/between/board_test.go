package between

import (
	"image"
	"image/color"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/disintegration/imaging"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/suites/demo"
)

// boardDirs writes the demo's goldens as a board of 320x240 shows them and as another board would.
func boardDirs(t *testing.T, one, other func(image.Image) image.Image) (before, after string) {
	t.Helper()
	before, after = t.TempDir(), t.TempDir()
	files, err := fs.Glob(demo.Files, "golden/fernhouse-320/*/*.png")
	if err != nil || len(files) < 10 {
		t.Fatalf("%d goldens, error %v", len(files), err)
	}
	for _, f := range files {
		r, err := demo.Files.Open(f)
		if err != nil {
			t.Fatal(err)
		}
		m, err := picture.Decode(r, f)
		r.Close()
		if err != nil {
			t.Fatal(err)
		}
		name := strings.ReplaceAll(strings.TrimPrefix(f, "golden/fernhouse-320/"), "/", "-")
		for dir, img := range map[string]image.Image{before: one(m), after: other(m)} {
			if err := imaging.Save(img, filepath.Join(dir, name)); err != nil {
				t.Fatal(err)
			}
		}
	}
	return before, after
}

// Boards are compared after a mapping that is said, and what cannot be compared is said. The other boards' pictures
// are made from the demo's goldens here; a fault is drawn on each, which must be found on every look.
func TestBoards(t *testing.T) {
	fault := func(m *image.NRGBA) {
		for y := 100; y < 130; y++ {
			for x := 90; x < 150; x++ {
				m.SetNRGBA(x, y, color.NRGBA{200, 0, 200, 255})
			}
		}
	}
	faulty := func(m image.Image) *image.NRGBA {
		out := imaging.Clone(m)
		fault(out)
		return out
	}
	tests := []struct {
		name, says string
		formats    [2]string
		good, bad  func(image.Image) image.Image
		compared   bool
	}{
		{"turned", "After is 240x320 and before 320x240: turned a quarter back, as from a panel turned anticlockwise. A picture that was drawn for the other layout cannot be compared so.", [2]string{},
			func(m image.Image) image.Image { return imaging.Rotate90(m) },
			func(m image.Image) image.Image { return imaging.Rotate90(faulty(m)) }, true},
		{"larger", "After is 480x360 and before 320x240, 1.5 times as large: brought to the smaller size. Thin lines, letters' edges and what is smaller than a pixel there cannot be compared.", [2]string{},
			func(m image.Image) image.Image { return imaging.Resize(m, 480, 360, imaging.CatmullRom) },
			func(m image.Image) image.Image { return imaging.Resize(faulty(m), 480, 360, imaging.CatmullRom) }, true},
		{"smaller both ways", "After is 300x220 and before 320x240: the 300x220 px at the top left are compared. What lies beyond, and what is laid out by the size of the panel, cannot be.", [2]string{},
			func(m image.Image) image.Image { return imaging.Crop(m, image.Rect(0, 0, 300, 220)) },
			func(m image.Image) image.Image { return imaging.Crop(faulty(m), image.Rect(0, 0, 300, 220)) }, true},
		{"deeper", "After has rgb888 and before rgb565le: compared with 5, 6 and 5 bits a channel. What differs by one step of these, or by two where colours meet, cannot be compared.", [2]string{"rgb565le", "rgb888"},
			func(m image.Image) image.Image { return below565(m) },
			func(m image.Image) image.Image { return below565(faulty(m)) }, true},
		{"mono", "Before has rgb565le and after mono: colours are made black or white at half their lightness. Colours cannot be compared.", [2]string{"rgb565le", "mono"},
			blackWhite, func(m image.Image) image.Image { return invertBox(blackWhite(m)) }, true},
		{"small and mono", "After is 128x64 and before 320x240: another layout, of which nothing can be compared but that the look is there.", [2]string{"rgb565le", "mono"},
			func(m image.Image) image.Image { return blackWhite(imaging.Resize(m, 128, 64, imaging.Box)) }, nil, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			run := func(other func(image.Image) image.Image) *Report {
				t.Helper()
				p, err := Open(boardDirs(t, func(m image.Image) image.Image { return m }, other))
				if err != nil {
					t.Fatal(err)
				}
				p.boards.formats = tt.formats
				r, err := p.Compare()
				if err != nil {
					t.Fatal(err)
				}
				if len(r.Mapped) != 1 || r.Mapped[0] != tt.says {
					t.Errorf("said %q\nwant %q", r.Mapped, tt.says)
				}
				return r
			}
			r := run(tt.good)
			looks := len(r.looks)
			if !tt.compared {
				if r.Same != 0 {
					t.Errorf("%d looks pass as the same", r.Same)
				}
				return
			}
			if r.Same != looks {
				r.Tell(os.Stderr)
				t.Errorf("%d of %d looks are the same on the other board, want all", r.Same, looks)
			}
			r = run(tt.bad)
			if r.Same != 0 {
				t.Errorf("the fault is missed on %d of %d looks", r.Same, looks)
			}
		})
	}
}

// below565 alters what a panel of 16 bits does not show.
func below565(m image.Image) image.Image {
	out := imaging.Clone(m)
	for i := range out.Pix {
		if i%4 != 3 {
			out.Pix[i] = out.Pix[i]&^3 | uint8(i/7)&3
		}
	}
	return out
}

func blackWhite(m image.Image) image.Image {
	out := imaging.Clone(m)
	for i := 0; i < len(out.Pix); i += 4 {
		v := uint8(0)
		if luma(color.NRGBA{out.Pix[i], out.Pix[i+1], out.Pix[i+2], 255}) >= 128 {
			v = 255
		}
		out.Pix[i], out.Pix[i+1], out.Pix[i+2] = v, v, v
	}
	return out
}

func invertBox(m image.Image) image.Image {
	out := imaging.Clone(m)
	for y := 100; y < 130; y++ {
		for x := 90; x < 150; x++ {
			for c := range 3 {
				out.Pix[y*out.Stride+4*x+c] ^= 0xff
			}
		}
	}
	return out
}
