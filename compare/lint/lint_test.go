package lint

import (
	"encoding/json"
	"image"
	"image/color"
	"image/draw"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"

	"github.com/fascia-bench/fascia/capture"
)

// epsilon: the published ratios are given to the last digit of a float64, and fused multiply-add may round
// otherwise.
const epsilon = 1e-9

func TestRatioAgainstPublishedValues(t *testing.T) {
	text, err := os.ReadFile("../../testdata/colour/srgb_rgb565.json")
	if err != nil {
		t.Fatal(err)
	}
	var doc struct {
		WCAG struct {
			Thresholds map[string]float64
			Values     []struct {
				A, B     string
				Contrast float64
			}
		}
	}
	if err := json.Unmarshal(text, &doc); err != nil || len(doc.WCAG.Values) < 5 {
		t.Fatalf("%d values: %v", len(doc.WCAG.Values), err)
	}
	hex := func(s string) uint32 {
		v, err := strconv.ParseUint(strings.TrimPrefix(s, "#"), 16, 32)
		if err != nil {
			t.Fatal(err)
		}
		return uint32(v)
	}
	for _, v := range doc.WCAG.Values {
		if got := ratio(hex(v.A), hex(v.B)); math.Abs(got-v.Contrast) > epsilon || ratio(hex(v.B), hex(v.A)) != got {
			t.Errorf("contrast of %s and %s = %v, want %v", v.A, v.B, got, v.Contrast)
		}
	}
	if th := doc.WCAG.Thresholds; th["text_AA"] != Defaults.Text || th["large_text_AA"] != Defaults.LargeText {
		t.Errorf("defaults %v, published %v", Defaults, th)
	}
}

// A sheet is drawn on by the tests.
type sheet struct{ *image.RGBA }

var (
	ink   = color.RGBA{20, 30, 25, 255}
	paper = color.RGBA{250, 248, 240, 255}
	dew   = color.RGBA{225, 236, 222, 255}
)

func blank() sheet {
	s := sheet{image.NewRGBA(image.Rect(-5, 3, 155, 83))} // where Bounds starts is not visible
	s.fill(0, 0, 160, 80, paper)
	return s
}

func (s sheet) fill(x, y, w, h int, c color.Color) {
	draw.Draw(s.RGBA, image.Rect(x, y, x+w, y+h).Add(s.Rect.Min), image.NewUniform(c), image.Point{}, draw.Src)
}

func (s sheet) text(t *testing.T, x, baseline int, text string, c color.Color) {
	t.Helper()
	f, err := opentype.Parse(goregular.TTF)
	if err != nil {
		t.Fatal(err)
	}
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: 14, DPI: 72, Hinting: font.HintingFull})
	if err != nil {
		t.Fatal(err)
	}
	d := font.Drawer{Dst: s.RGBA, Src: image.NewUniform(c), Face: face, Dot: fixed.P(x+s.Rect.Min.X, baseline+s.Rect.Min.Y)}
	d.DrawString(text)
}

func (s sheet) box(x, y, w, h int, c color.Color) {
	s.fill(x, y, w, 1, c)
	s.fill(x, y+h-1, w, 1, c)
	s.fill(x, y, 1, h, c)
	s.fill(x+w-1, y, 1, h, c)
}

func TestCheck(t *testing.T) {
	tests := []struct {
		name, want, why string
		draw            func(s sheet)
	}{
		{"sound", "", "text on paper", func(s sheet) { s.text(t, 20, 40, "Mist valve", ink) }},
		{"pale", Contrast, "grey on paper", func(s sheet) { s.text(t, 20, 40, "Mist valve", color.RGBA{190, 190, 185, 255}) }},
		{"right edge", CutPanel, "the last letter is half off the panel", func(s sheet) { s.text(t, 100, 40, "Mist valve", ink) }},
		{"in a button", "", "room on both sides", func(s sheet) {
			s.fill(10, 20, 100, 30, dew)
			s.text(t, 20, 40, "Mist valve", ink)
		}},
		{"over a button", OverEdge, "the button ends in the middle of a letter", func(s sheet) {
			s.fill(10, 20, 72, 30, dew)
			s.text(t, 20, 40, "Mist valve", ink)
		}},
		{"cut", CutBox, "the card covers half an e, of which there are others", func(s sheet) {
			for i, letter := range strings.Split("hetoele", "") { // apart, as a panel's fonts are
				s.text(t, 20+10*i, 40, letter, ink)
			}
			blobs := read(s).lines[0].blobs
			s.fill(blobs[len(blobs)-1].box.Max.X-3, 20, 20, 30, paper)
		}},
		{"touching", Touching, "an entry's frame stands right behind the text", func(s sheet) {
			s.text(t, 20, 40, "Target", ink)
			s.box(61, 22, 60, 26, ink)
		}},
		{"a gap", "", "four pixels away it does not", func(s sheet) {
			s.text(t, 20, 40, "Target", ink)
			s.box(68, 22, 60, 26, ink)
		}},
		{"dots for want of room", Shortened, "a box begins behind the dots", func(s sheet) {
			s.text(t, 20, 40, "Season rem...", ink)
			s.fill(110, 20, 40, 30, dew)
		}},
		{"dots of speech", "", "there is room for more", func(s sheet) { s.text(t, 20, 40, "Looking ...", ink) }},
		{"no glyph", NoGlyph, "a box of a letter's size between letters", func(s sheet) {
			s.text(t, 20, 40, "Nor", ink)
			s.box(45, 30, 7, 10, ink)
			s.text(t, 54, 40, "ch", ink)
		}},
		{"tick box", "", "a box before its label", func(s sheet) {
			s.box(8, 30, 9, 10, ink)
			s.text(t, 21, 40, "Mist at night", ink)
		}},
		{"bars", "", "the strength of a signal is no text", func(s sheet) {
			for i := range 4 {
				s.fill(20+5*i, 40-4*i, 3, 4+4*i, color.RGBA{225, 220, 210, 255})
			}
		}},
		{"gradient", "", "what is no flat ground is not looked at", func(s sheet) {
			for y := range 80 {
				s.fill(0, y, 160, 1, color.RGBA{uint8(100 + y), 120, 120, 255})
			}
			s.text(t, 20, 40, "Mist valve", color.RGBA{150, 150, 150, 255})
		}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			s := blank()
			tt.draw(s)
			got := []string{}
			for _, f := range Check([]Picture{{Name: tt.name, Image: s}}, Defaults) {
				got = append(got, f.Kind)
				if !f.Rect().In(image.Rect(0, 0, 160, 80)) || f.Rect().Empty() || f.Says == "" {
					t.Errorf("%+v", f)
				}
			}
			if strings.Join(got, " ") != tt.want {
				t.Errorf("found %q, want %q: %s", got, tt.want, tt.why)
			}
		})
	}
}

func TestOffFormatAndTargets(t *testing.T) {
	s := blank() // its paper is not of 565
	s.fill(0, 0, 160, 80, color.RGBA{255, 255, 255, 255})
	s.fill(30, 20, 2, 1, color.RGBA{255, 255, 250, 255})
	p := Picture{Name: "p", Image: s, Format: capture.RGB565LE, Targets: []Target{NewTarget("a", 0, 0, 32, 32), NewTarget("b", 40, 0, 31, 40)}}
	found := Check([]Picture{p}, Defaults)
	if len(found) != 2 || found[1].Kind != OffFormat || found[1].Rect() != image.Rect(30, 20, 32, 21) || found[0].Kind != SmallTap || found[0].X != 40 {
		t.Errorf("found %+v", found)
	}
}

func TestLanguages(t *testing.T) {
	in := func(text string) image.Image {
		s := blank()
		s.fill(91, 20, 60, 30, dew)
		s.text(t, 20, 40, text, ink)
		return s
	}
	found := Check([]Picture{{Name: "set/home de", Image: in("Erinnerung")}, {Name: "set/home fr", Image: in("Rappel")}, {Name: "set/home es", Image: in("Aviso")}, {Name: "set/other en", Image: in("Erinnerung")}}, Defaults)
	if len(found) != 1 || found[0].Kind != Language || found[0].Picture != "set/home de" {
		t.Errorf("found %+v, want the German", found)
	}
}

func FuzzCheck(f *testing.F) {
	f.Add([]byte("\x10\x08aaaaaaaaaaaaaaaabbbb"))
	f.Fuzz(func(t *testing.T, in []byte) { // any picture may come; findings lie on it
		if len(in) < 3 {
			return
		}
		w, h := 1+int(in[0])%64, 1+int(in[1])%64
		m := image.NewGray(image.Rect(0, 0, w, h))
		for i := range m.Pix {
			m.Pix[i] = in[2:][min(i/7, len(in)-3)%max(len(in)-2, 1)]
		}
		for _, fd := range Check([]Picture{{Image: m}}, Defaults) {
			if !fd.Rect().In(m.Rect) {
				t.Errorf("%+v lies off the picture of %dx%d", fd, w, h)
			}
		}
	})
}
