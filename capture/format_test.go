package capture

import (
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"os"
	"strconv"
	"strings"
	"testing"
)

func TestRGB565OfTheTable(t *testing.T) {
	b, err := os.ReadFile("../testdata/link/rgb565.json")
	if err != nil {
		t.Fatal(err)
	}
	var table struct {
		RGB565 struct {
			Expand5, Expand6 []uint8
			Pixels           []struct {
				Name      string
				RGB888    [3]uint8
				Truncated string `json:"rgb565_truncated"`
				LE        string `json:"bytes_little_endian"`
				BE        string `json:"bytes_big_endian"`
				Expanded  [3]uint8
				Swapped   [3]uint8 `json:"expanded_if_bytes_swapped"`
			}
		}
	}
	if err := json.Unmarshal(b, &table); err != nil {
		t.Fatal(err)
	}
	v := table.RGB565
	if len(v.Expand5) != 32 || len(v.Expand6) != 64 || len(v.Pixels) < 5 {
		t.Fatalf("the table has %d, %d and %d rows", len(v.Expand5), len(v.Expand6), len(v.Pixels))
	}
	for code := range 1 << 16 {
		want := color.RGBA{v.Expand5[code>>11], v.Expand6[code>>5&63], v.Expand5[code&31], 255}
		if got := Expand565(uint16(code)); got != want {
			t.Fatalf("Expand565(%#04x) = %v, want %v", code, got, want)
		}
		if back := Pack565(want); back != uint16(code) {
			t.Fatalf("%#04x packs again as %#04x", code, back)
		}
	}
	for _, p := range v.Pixels {
		c := color.RGBA{p.RGB888[0], p.RGB888[1], p.RGB888[2], 255}
		want, err := strconv.ParseUint(p.Truncated, 0, 16)
		if err != nil {
			t.Fatal(err)
		}
		if got := Pack565(c); got != uint16(want) {
			t.Errorf("%s packs as %#04x, want %s", p.Name, got, p.Truncated)
		}
		m := image.NewUniform(c)
		for format, hex := range map[Format]string{RGB565LE: p.LE, RGB565BE: p.BE} {
			f, _ := FromImage(&sized{m, image.Rect(0, 0, 1, 1)}, format, nil)
			if got := fmt.Sprintf("% x", f.Pix); got != hex {
				t.Errorf("%s as %v is %s, want %s", p.Name, format, got, hex)
			}
			if got := f.RGBAAt(0, 0); got != (color.RGBA{p.Expanded[0], p.Expanded[1], p.Expanded[2], 255}) {
				t.Errorf("%s as %v shows %v, want %v", p.Name, format, got, p.Expanded)
			}
			f.Format = RGB565LE + RGB565BE - format
			if got := f.RGBAAt(0, 0); got != (color.RGBA{p.Swapped[0], p.Swapped[1], p.Swapped[2], 255}) {
				t.Errorf("%s with its bytes exchanged shows %v, want %v", p.Name, got, p.Swapped)
			}
		}
	}
}

// sized gives a picture without end bounds.
type sized struct {
	image.Image
	r image.Rectangle
}

func (s *sized) Bounds() image.Rectangle { return s.r }

// levels returns 8-bit levels that a format shows exactly.
func levels(bits uint) []uint8 {
	var l []uint8
	for v := range 1 << bits {
		l = append(l, uint8(v*255/(1<<bits-1)))
	}
	return l
}

// colours lists what each format can show, worked out from the number of bits a channel.
func colours(f Format, palette []color.RGBA) []color.RGBA {
	grey := func(bits uint) (c []color.RGBA) {
		for _, v := range levels(bits) {
			c = append(c, color.RGBA{v, v, v, 255})
		}
		return c
	}
	var all []color.RGBA
	switch f {
	case MonoRows, MonoPages:
		return grey(1)
	case Grey2:
		return grey(2)
	case Grey4:
		return grey(4)
	case Grey8:
		return grey(8)
	case Palette8:
		return palette
	case RGB332: // three bits by replication, as 565 is
		for v := range 256 {
			r, g, b := uint8(v>>5), uint8(v>>2&7), uint8(v&3)
			all = append(all, color.RGBA{r<<5 | r<<2 | r>>1, g<<5 | g<<2 | g>>1, b<<6 | b<<4 | b<<2 | b, 255})
		}
	case RGB565LE, RGB565BE:
		for v := 0; v < 1<<16; v += 37 {
			all = append(all, Expand565(uint16(v)))
		}
	default:
		for v := range 4096 {
			all = append(all, color.RGBA{uint8(v * 7), uint8(v * 31), uint8(v * 101), 255})
		}
	}
	return all
}

var somePalette = []color.RGBA{{1, 2, 3, 255}, {255, 0, 0, 255}, {9, 9, 9, 255}, {0, 0, 0, 255}, {255, 255, 255, 255}}

// What a format can show comes back exactly, at every place in a byte, from a picture with an odd origin.
func TestFormatsKeepWhatTheyCanShow(t *testing.T) {
	for f := MonoRows; f.Valid(); f++ {
		all := colours(f, somePalette)
		for _, width := range []int{1, 3, 7, 8, 9, 33} {
			m := image.NewRGBA(image.Rect(-5, 11, -5+width, 11+19))
			for i := range width * 19 {
				m.SetRGBA(-5+i%width, 11+i/width, all[(i*7+width)%len(all)])
			}
			frame, exact := FromImage(m, f, somePalette)
			if !exact {
				t.Errorf("%v: a picture of its own colours is said not to be exact", f)
			}
			back := frame.RGBA()
			for y := range 19 {
				for x := range width {
					want := m.RGBAAt(x-5, y+11)
					if got := frame.RGBAAt(x, y); got != want {
						t.Fatalf("%v, width %d: (%d,%d) = %v, want %v", f, width, x, y, got, want)
					}
					if got := back.RGBAAt(x, y); got != want {
						t.Fatalf("%v: RGBA() at (%d,%d) = %v, want %v", f, x, y, got, want)
					}
				}
			}
			if again, _ := FromImage(back, f, somePalette); string(again.Pix) != string(frame.Pix) {
				t.Errorf("%v, width %d: packed again the bytes differ", f, width)
			}
		}
	}
}

func TestFromImageSaysWhatItCannotShow(t *testing.T) {
	for f := MonoRows; f.Valid(); f++ {
		m := image.NewRGBA(image.Rect(0, 0, 9, 9))
		for i := range m.Pix {
			m.Pix[i] = 255
		}
		p := append([]color.RGBA{}, color.RGBA{255, 255, 255, 255})
		if _, exact := FromImage(m, f, p); !exact {
			t.Errorf("%v cannot show white", f)
		}
		m.SetRGBA(8, 8, color.RGBA{250, 251, 252, 255})
		_, exact := FromImage(m, f, p)
		if want := f == RGB888 || f == XRGB8888; exact != want {
			t.Errorf("%v: (250,251,252) exact = %v", f, exact)
		}
	}
}

// Where the bits lie, by hand.
func TestBitOrder(t *testing.T) {
	tests := []struct {
		format Format
		w, h   int
		pix    []byte
		white  image.Point
		why    string
	}{
		{MonoRows, 9, 1, []byte{0x80, 0}, image.Pt(0, 0), "leftmost in the high bit"},
		{MonoRows, 9, 1, []byte{0, 0x80}, image.Pt(8, 0), "the ninth pixel starts a byte"},
		{MonoPages, 2, 9, []byte{0, 1, 0, 0}, image.Pt(1, 0), "topmost in the low bit"},
		{MonoPages, 2, 9, []byte{0, 0, 1, 0}, image.Pt(0, 8), "the ninth row starts a page"},
		{Grey2, 5, 1, []byte{0x0c, 0}, image.Pt(2, 0), "leftmost in the high bits"},
		{Grey4, 3, 1, []byte{0x0f, 0}, image.Pt(1, 0), "leftmost in the high bits"},
		{XRGB8888, 2, 1, []byte{0, 0, 0, 9, 255, 255, 255, 7}, image.Pt(1, 0), "the fourth byte means nothing"},
	}
	for _, tt := range tests {
		f := NewFrame(tt.w, tt.h, tt.format)
		if len(f.Pix) != len(tt.pix) {
			t.Errorf("%v %dx%d takes %d bytes, want %d", tt.format, tt.w, tt.h, len(f.Pix), len(tt.pix))
			continue
		}
		copy(f.Pix, tt.pix)
		for y := range tt.h {
			for x := range tt.w {
				want := color.RGBA{0, 0, 0, 255}
				if tt.white == image.Pt(x, y) {
					want = color.RGBA{255, 255, 255, 255}
				}
				if got := f.RGBAAt(x, y); got != want {
					t.Errorf("%v (%d,%d) = %v, want %v: %s", tt.format, x, y, got, want, tt.why)
				}
			}
		}
	}
}

func TestFormatNames(t *testing.T) {
	for f := MonoRows; f.Valid(); f++ {
		if got, err := ParseFormat(f.String()); err != nil || got != f {
			t.Errorf("%v parses as %v, %v", f, got, err)
		}
	}
	if got, err := ParseFormat("rgb565"); err != nil || got != RGB565LE {
		t.Errorf("rgb565 parses as %v, %v", got, err)
	}
	for _, bad := range []string{"", "RGB565", "rgb", "format 3"} {
		if _, err := ParseFormat(bad); err == nil || !strings.Contains(err.Error(), "mono") {
			t.Errorf("%q: %v", bad, err)
		}
	}
	if len(FormatNames()) != 11 || Format(0).Valid() || Format(12).Valid() {
		t.Errorf("formats %v", FormatNames())
	}
	if got := Format(77).String(); got != "format 77" {
		t.Errorf("an unknown format is called %q", got)
	}
}

func TestOutsideAndUnknownColours(t *testing.T) {
	f := NewFrame(2, 2, Palette8)
	f.Palette = somePalette[:1]
	f.Pix[1] = 9
	if got := f.RGBAAt(1, 0); got != (color.RGBA{A: 255}) {
		t.Errorf("an index beyond the palette shows %v, want black", got)
	}
	for _, p := range []image.Point{{-1, 0}, {0, -1}, {2, 0}, {0, 2}} {
		if got := f.RGBAAt(p.X, p.Y); got != (color.RGBA{}) {
			t.Errorf("outside, at %v, there is %v", p, got)
		}
	}
	c := f.Clone()
	c.Pix[0] = 5
	if f.Pix[0] != 0 || !c.SameShape(f) || f.SameShape(nil) || f.SameShape(NewFrame(2, 3, Palette8)) {
		t.Error("Clone or SameShape")
	}
}
