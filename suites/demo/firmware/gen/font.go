package main

import (
	"bytes"
	"fmt"
	"image"
	"math"
	"sort"
	"unicode"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gomedium"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// A face is one size and weight. Its size is stated as the height of the lower-case x (or of
// the capital H for figures), in whole pixels: small text is only crisp where its two
// horizontal edges fall on pixel edges.
type face struct {
	name    string
	ttf     []byte
	xHeight int    // pixels; 0 for faces of figures
	capital int    // pixels; 0 where it follows from xHeight
	only    string // characters; empty for Latin-1 and some punctuation
}

const figures = "0123456789.,:-–+% "

var faces = []face{
	{name: "small", ttf: goregular.TTF, xHeight: 6},
	{name: "body", ttf: goregular.TTF, xHeight: 7},
	{name: "bold", ttf: gomedium.TTF, xHeight: 7},
	{name: "title", ttf: gomedium.TTF, xHeight: 8},
	{name: "head", ttf: gomedium.TTF, xHeight: 10},
	{name: "num", ttf: goregular.TTF, capital: 19, only: figures},
	{name: "big", ttf: goregular.TTF, capital: 31, only: figures},
}

func repertoire() []rune {
	var rs []rune
	for r := rune(0x20); r < 0x7F; r++ {
		rs = append(rs, r)
	}
	for r := rune(0xA0); r <= 0xFF; r++ {
		rs = append(rs, r)
	}
	return append(rs, []rune("ŒœŸ–—‘’“”„•…€\uFFFD")...)
}

// A fit is how a face stands on the pixel grid: one scale, and the font's lines (baseline,
// x-height and so on, each with the overshoot of round letters) with the row each must meet.
type fit struct {
	scale float64
	lines []line
}

type line struct{ low, high, px float64 } // font units above the baseline; pixels

func (f fit) zone(u float64) (float64, bool) {
	for _, l := range f.lines {
		if u >= l.low-8 && u <= l.high+8 {
			return l.px, true
		}
	}
	return 0, false
}

type outline struct {
	segments sfnt.Segments
	advance  float64
}

type loader struct {
	font *sfnt.Font
	buf  sfnt.Buffer
	ppem fixed.Int26_6
}

func (l *loader) load(r rune) (outline, error) {
	gid, err := l.font.GlyphIndex(&l.buf, r)
	if err != nil {
		return outline{}, err
	}
	segs, err := l.font.LoadGlyph(&l.buf, gid, l.ppem, nil)
	if err != nil {
		return outline{}, err
	}
	adv, err := l.font.GlyphAdvance(&l.buf, gid, l.ppem, font.HintingNone)
	if err != nil {
		return outline{}, err
	}
	o := outline{append(sfnt.Segments(nil), segs...), units(adv)}
	if r == '0' {
		o.segments = plainZero(o.segments)
	}
	return o, nil
}

func units(v fixed.Int26_6) float64 { return float64(v) / 64 }

// extent is the highest and lowest point of a letter, in font units above the baseline.
func (l *loader) extent(r rune) (lo, hi float64, err error) {
	o, err := l.load(r)
	if err != nil {
		return 0, 0, err
	}
	b := o.segments.Bounds()
	return -units(b.Max.Y), -units(b.Min.Y), nil
}

func (f face) fitting(l *loader) (fit, error) {
	get := func(r rune) (lo, hi float64) {
		lo, hi, err := l.extent(r)
		if err != nil {
			panic(fmt.Sprintf("measure %q: %v", r, err)) // the embedded fonts have all of them
		}
		return lo, hi
	}
	_, capH := get('H')
	oLo, oHi := get('o')
	_, capO := get('O')
	if f.capital > 0 {
		_, one := get('1')
		s := float64(f.capital) / one
		return fit{s, []line{{oLo, 0, 0}, {one, capO, float64(f.capital)}}}, nil
	}
	_, x := get('x')
	_, tall := get('l')
	deep, _ := get('p')
	s := float64(f.xHeight) / x
	return fit{s, []line{
		{deep, deep, math.Round(deep * s)},
		{oLo, 0, 0},
		{x, oHi, float64(f.xHeight)},
		{capH, capO, math.Round(capH * s)},
		{tall, tall, math.Round(tall * s)},
	}}, nil
}

type glyph struct {
	r                    rune
	left, top, w, h, adv int
	alpha                []uint8
}

func render(o outline, k fit, r rune, em float64) glyph {
	adv := max(1, int(math.Round(o.advance*k.scale)))
	contours := flatten(o.segments)
	// The advance is rounded to pixels; sharing the rounding between both sides keeps the
	// rhythm of the letters even.
	across := &warp{scale: k.scale, shift: (float64(adv) - o.advance*k.scale) / 2}
	across.snap(edges(contours, em, false), em, func(float64) (float64, bool) { return 0, false })
	if unicode.IsLetter(r) { // figures keep one advance for all, so that they stand still
		right := units(o.segments.Bounds().Max.X)
		adv = max(1, int(math.Round(across.at(right)+(o.advance-right)*k.scale)))
	}
	up := &warp{scale: k.scale}
	up.snap(edges(swap(contours), em, true), em, k.zone)
	for _, l := range k.lines {
		up.pin(l.low, l.px)
		up.pin(l.high, l.px)
	}
	const pad = 4
	b := o.segments.Bounds()
	x0 := int(math.Floor(across.at(units(b.Min.X)))) - pad
	x1 := int(math.Ceil(across.at(units(b.Max.X)))) + pad
	y0 := int(math.Floor(-up.at(-units(b.Min.Y)))) - pad
	y1 := int(math.Ceil(-up.at(-units(b.Max.Y)))) + pad
	z := vector.NewRasterizer(x1-x0, y1-y0)
	for _, c := range contours {
		for i, p := range c {
			x, y := float32(across.at(p.x)-float64(x0)), float32(-up.at(p.y)-float64(y0))
			if i == 0 {
				z.MoveTo(x, y)
			} else {
				z.LineTo(x, y)
			}
		}
		z.ClosePath()
	}
	m := image.NewAlpha(image.Rect(0, 0, x1-x0, y1-y0))
	z.Draw(m, m.Bounds(), image.Opaque, image.Point{})
	return crop(m, r, x0, y0, adv)
}

// crop cuts the empty margin off and reduces the alpha to 4 bits.
func crop(m *image.Alpha, r rune, x0, y0, adv int) glyph {
	four := func(x, y int) uint8 { return uint8((int(m.AlphaAt(x, y).A)*15 + 127) / 255) }
	var box image.Rectangle
	for y := range m.Rect.Dy() {
		for x := range m.Rect.Dx() {
			if four(x, y) > 0 {
				box = box.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	g := glyph{r: r, left: x0 + box.Min.X, top: -(y0 + box.Min.Y), w: box.Dx(), h: box.Dy(), adv: adv}
	if box.Empty() {
		g.left, g.top = 0, 0
	}
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			g.alpha = append(g.alpha, four(x, y))
		}
	}
	return g
}

func (f face) source() ([]byte, error) {
	ttf, err := sfnt.Parse(f.ttf)
	if err != nil {
		return nil, err
	}
	l := &loader{font: ttf, ppem: fixed.I(int(ttf.UnitsPerEm()))}
	k, err := f.fitting(l)
	if err != nil {
		return nil, err
	}
	rs := repertoire()
	if f.only != "" {
		rs = []rune(f.only)
	}
	sort.Slice(rs, func(i, j int) bool { return rs[i] < rs[j] })

	var data []byte
	var table bytes.Buffer
	for _, r := range rs {
		o, err := l.load(r)
		if err != nil {
			return nil, fmt.Errorf("glyph %U: %w", r, err)
		}
		g := render(o, k, r, float64(ttf.UnitsPerEm()))
		fmt.Fprintf(&table, "\t{0x%04X, %d, %d, %d, %d, %d, %d},\n", r, len(data), g.left, g.top, g.w, g.h, g.adv)
		data = append(data, pack(g.alpha)...)
	}
	if len(data) > math.MaxUint16 {
		return nil, fmt.Errorf("%d bytes of bitmaps do not fit 16-bit offsets", len(data))
	}
	_, capH, err := l.extent('H')
	if err != nil {
		return nil, err
	}
	deep, _, err := l.extent('p')
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	fmt.Fprintf(&out, "/* Code generated by go run ./gen; DO NOT EDIT. Letterforms: the Go fonts, BSD licence, see README.md. */\n")
	fmt.Fprintf(&out, "#include \"draw.h\"\n\nstatic const draw_glyph glyphs[] = {\n%s};\n\n", table.Bytes())
	writeBytes(&out, "bits", data)
	capPx := int(math.Round(capH * k.scale))
	if f.capital > 0 {
		capPx = f.capital
	}
	fmt.Fprintf(&out, "\nconst draw_font draw_font_%s = {glyphs, bits, %d, %d, %d};\n", f.name, len(rs), capPx, int(math.Ceil(-deep*k.scale)))
	return out.Bytes(), nil
}

func writeBytes(out *bytes.Buffer, name string, data []byte) {
	fmt.Fprintf(out, "static const uint8_t %s[] = {", name)
	for i, b := range data {
		if i%24 == 0 {
			out.WriteString("\n\t")
		}
		fmt.Fprintf(out, "%d,", b)
	}
	out.WriteString("\n};\n")
}
