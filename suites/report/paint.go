package report

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// Colours of pictures: those of the page in its light form.
var (
	paper    = color.NRGBA{0xf3, 0xf4, 0xf1, 0xff}
	ink      = color.NRGBA{0x1d, 0x25, 0x28, 0xff}
	quiet    = color.NRGBA{0x52, 0x60, 0x6a, 0xff}
	rule     = color.NRGBA{0xb7, 0xc0, 0xbf, 0xff}
	pen      = color.NRGBA{0x1b, 0x5c, 0x8c, 0xff}
	touched  = color.NRGBA{0x0d, 0x4a, 0x78, 0xff}
	amber    = color.NRGBA{0x9a, 0x46, 0x00, 0xff}
	ringFill = color.NRGBA{0xff, 0xb0, 0x4d, 0xff}
	ringCase = color.NRGBA{0x24, 0x13, 0x02, 0xff}
	white    = color.NRGBA{0xff, 0xff, 0xff, 0xff}
)

// Sizes of type, in px at 72 dpi.
const (
	textSize = 13
	lineStep = 17
	tagSize  = 8 // radius of a number
)

type faces struct{ regular, bold, small font.Face }

// theFaces are made once; a face keeps a glyph cache and is guarded by paintLock.
var theFaces = sync.OnceValue(func() faces {
	face := func(ttf []byte, size float64) font.Face {
		f, err := opentype.Parse(ttf)
		if err != nil {
			panic(err) // the fonts are constants of their package
		}
		x, err := opentype.NewFace(f, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingFull})
		if err != nil {
			panic(err)
		}
		return x
	}
	return faces{face(goregular.TTF, textSize), face(gobold.TTF, textSize), face(gobold.TTF, 10.5)}
})

// paintLock keeps two pictures from being painted at once: faces are not safe for that.
var paintLock sync.Mutex

// A canvas is a picture being painted.
type canvas struct{ *image.RGBA }

func newCanvas(w, h int) canvas {
	c := canvas{image.NewRGBA(image.Rect(0, 0, w, h))}
	c.fill(c.Rect, paper)
	return c
}

func (c canvas) fill(r image.Rectangle, col color.Color) {
	draw.Draw(c.RGBA, r, image.NewUniform(col), image.Point{}, draw.Over)
}

// frame draws the border of r, inside it.
func (c canvas) frame(r image.Rectangle, width int, col color.Color) {
	in := r.Inset(width)
	if in.Empty() {
		c.fill(r, col)
		return
	}
	c.fill(image.Rect(r.Min.X, r.Min.Y, r.Max.X, in.Min.Y), col)
	c.fill(image.Rect(r.Min.X, in.Max.Y, r.Max.X, r.Max.Y), col)
	c.fill(image.Rect(r.Min.X, in.Min.Y, in.Min.X, in.Max.Y), col)
	c.fill(image.Rect(in.Max.X, in.Min.Y, r.Max.X, in.Max.Y), col)
}

func (c canvas) dashed(r image.Rectangle, col color.Color) {
	for x := r.Min.X; x < r.Max.X; x += 8 {
		to := min(x+4, r.Max.X)
		c.fill(image.Rect(x, r.Min.Y, to, r.Min.Y+1), col)
		c.fill(image.Rect(x, r.Max.Y-1, to, r.Max.Y), col)
	}
	for y := r.Min.Y; y < r.Max.Y; y += 8 {
		to := min(y+4, r.Max.Y)
		c.fill(image.Rect(r.Min.X, y, r.Min.X+1, to), col)
		c.fill(image.Rect(r.Max.X-1, y, r.Max.X, to), col)
	}
}

type vec struct{ x, y float64 }

func vecOf(p image.Point) vec { return vec{float64(p.X), float64(p.Y)} }

// polygon fills a closed outline, smoothed.
func (c canvas) polygon(pts []vec, col color.Color) {
	lo, hi := pts[0], pts[0]
	for _, p := range pts {
		lo, hi = vec{min(lo.x, p.x), min(lo.y, p.y)}, vec{max(hi.x, p.x), max(hi.y, p.y)}
	}
	box := image.Rect(int(math.Floor(lo.x)), int(math.Floor(lo.y)), int(math.Ceil(hi.x))+1, int(math.Ceil(hi.y))+1).Intersect(c.Rect)
	if box.Empty() {
		return
	}
	z := vector.NewRasterizer(box.Dx(), box.Dy())
	at := func(p vec) (float32, float32) {
		return float32(p.x - float64(box.Min.X)), float32(p.y - float64(box.Min.Y))
	}
	z.MoveTo(at(pts[0]))
	for _, p := range pts[1:] {
		z.LineTo(at(p))
	}
	z.ClosePath()
	z.Draw(c.RGBA, box, image.NewUniform(col), image.Point{})
}

func (c canvas) disc(at vec, r float64, col color.Color) {
	pts := make([]vec, 32)
	for i := range pts {
		s, k := math.Sincos(2 * math.Pi * float64(i) / float64(len(pts)))
		pts[i] = vec{at.x + r*k, at.y + r*s}
	}
	c.polygon(pts, col)
}

func (c canvas) line(a, b vec, width float64, col color.Color) {
	dx, dy := b.x-a.x, b.y-a.y
	n := math.Hypot(dx, dy)
	if n == 0 {
		return
	}
	ox, oy := -dy/n*width/2, dx/n*width/2
	c.polygon([]vec{{a.x + ox, a.y + oy}, {b.x + ox, b.y + oy}, {b.x - ox, b.y - oy}, {a.x - ox, a.y - oy}}, col)
}

// hatch covers an area that does not count, so that it reads on any ground.
func (c canvas) hatch(r image.Rectangle) {
	r = r.Intersect(c.Rect)
	c.fill(r, color.NRGBA{0x10, 0x18, 0x1c, 0x8c})
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			if (x+y)%8 < 2 {
				c.Set(x, y, color.NRGBA{0xdf, 0xe7, 0xea, 0xff})
			}
		}
	}
}

// ring draws a frame that is seen on any ground: a light line between two dark ones.
func (c canvas) ring(r image.Rectangle) {
	c.frame(r, 3, ringCase)
	c.frame(r.Inset(1), 1, ringFill)
}

func (c canvas) tag(at image.Point, text string) {
	c.disc(vecOf(at), tagSize+1, ringCase)
	c.disc(vecOf(at), tagSize, ringFill)
	c.centred(at, text, ringCase)
}

// centred writes a number or a letter in the middle of a disc.
func (c canvas) centred(at image.Point, text string, col color.Color) {
	f := theFaces().small
	w := font.MeasureString(f, text).Round()
	c.text(f, at.X-(w+1)/2, at.Y+4, text, col)
}

// text writes one line; x, y is where its base line begins.
func (c canvas) text(f font.Face, x, y int, s string, col color.Color) {
	d := font.Drawer{Dst: c.RGBA, Src: image.NewUniform(col), Face: f, Dot: fixed.P(x, y)}
	d.DrawString(s)
}

// lines writes several and returns the base line of the next.
func (c canvas) lines(f font.Face, x, y int, s []string, col color.Color) int {
	for _, l := range s {
		c.text(f, x, y, l, col)
		y += lineStep
	}
	return y
}

// wrap breaks s into lines of at most width px, within a word where there is no other way, and
// into at most `most` lines: what does not fit is replaced by an ellipsis.
func wrap(f font.Face, s string, width, most int) []string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) || unicode.IsControl(r) || r == unicode.ReplacementChar {
			return ' '
		}
		return r
	}, s)
	fits := func(t string) bool { return font.MeasureString(f, t).Ceil() <= width }
	var out []string
	line := ""
	for _, word := range strings.Fields(s) {
		if len(out) > most {
			break
		}
		joined := strings.TrimPrefix(line+" "+word, " ")
		if fits(joined) {
			line = joined
			continue
		}
		if line != "" {
			out = append(out, line)
			line = ""
		}
		for _, r := range word {
			if line != "" && !fits(line+string(r)) {
				if out = append(out, line); len(out) > most {
					break
				}
				line = ""
			}
			line += string(r)
		}
	}
	if line != "" {
		out = append(out, line)
	}
	if len(out) > most {
		out = out[:most]
		last := []rune(out[most-1])
		for len(last) > 0 && !fits(string(last)+"…") {
			last = last[:len(last)-1]
		}
		out[most-1] = string(last) + "…"
	}
	return out
}
