package pairs

import (
	"image"
	"image/color"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gomedium"
	"golang.org/x/image/font/gofont/gomono"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// edge is a way of drawing the rim of a shape.
type edge int

const (
	edgeUsual  edge = iota
	edgeBold        // coverage raised
	edgeThin        // coverage lowered
	edgeHard        // no anti-aliasing
	edgeOffset      // a fraction of a pixel to the right
	edgeHinted      // glyphs fitted to the pixel grid
)

// element is a widget of a drawn screen.
type element struct {
	kind       string // label, icon, button, bar, slider, box, toggle, gauge, plot
	x, y, w, h int
	text       string
	face       int // font
	size       int // px
	fg, bg     color.RGBA
	value      float64 // of bars and sliders, 0..1
	seed       uint64  // of icons and plots
	edge       edge
	// child elements are never changed by themselves where changing them would not be
	// seen as one part (the fill of a card under other widgets).
	fixed bool
}

// layer is a coverage mask in one colour.
type layer struct {
	cov func(x, y int) float64 // coverage of a pixel, 0..1
	box image.Rectangle
	col color.RGBA
}

var fontData = [][]byte{goregular.TTF, gobold.TTF, gomono.TTF, gomedium.TTF}

type faceKey struct {
	face, size int
	hinted     bool
}

type faces map[faceKey]font.Face

func (f faces) get(k faceKey) font.Face {
	if k.face < 0 {
		return basicfont.Face7x13
	}
	if v, ok := f[k]; ok {
		return v
	}
	parsed, err := opentype.Parse(fontData[k.face%len(fontData)])
	if err != nil {
		panic(err) // the font is compiled in
	}
	hint := font.HintingNone
	if k.hinted {
		hint = font.HintingFull
	}
	v, err := opentype.NewFace(parsed, &opentype.FaceOptions{Size: float64(k.size), DPI: 72, Hinting: hint})
	if err != nil {
		panic(err)
	}
	f[k] = v
	return v
}

// layersOf draws an element as masks, bottom first.
func layersOf(f faces, e element) []layer {
	shape := func(l layer) layer {
		if e.edge == edgeUsual {
			return l
		}
		cov := l.cov
		l.cov = func(x, y int) float64 { return rim(cov(x, y), e.edge) }
		return l
	}
	switch e.kind {
	case "label":
		return []layer{shape(textLayer(f, e, e.x, e.y))}
	case "button":
		d := 0.0
		if e.edge == edgeOffset {
			d = 0.35
		}
		r := math.Min(float64(e.h)/2, 6)
		t := e
		tw := textWidth(f, e)
		return []layer{
			shape(rounded(float64(e.x)+d, float64(e.y), float64(e.w)-2*d, float64(e.h), r, e.bg)),
			shape(textLayer(f, t, e.x+(e.w-tw)/2, e.y+(e.h-e.size)/2)),
		}
	case "bar":
		r := math.Min(float64(e.h)/2, 4)
		return []layer{
			shape(rounded(float64(e.x), float64(e.y), float64(e.w), float64(e.h), r, e.bg)),
			shape(rounded(float64(e.x), float64(e.y), math.Round(float64(e.w)*e.value), float64(e.h), r, e.fg)),
		}
	case "slider":
		mid := float64(e.y) + float64(e.h)/2
		kx := float64(e.x) + math.Round(float64(e.w-e.h)*e.value)
		return []layer{
			shape(rounded(float64(e.x), mid-2, float64(e.w), 4, 2, e.bg)),
			shape(rounded(kx, float64(e.y), float64(e.h), float64(e.h), float64(e.h)/2, e.fg)),
		}
	case "toggle":
		kx := float64(e.x) + 2
		if e.value > 0.5 {
			kx = float64(e.x+e.w-e.h) + 2
		}
		return []layer{
			shape(rounded(float64(e.x), float64(e.y), float64(e.w), float64(e.h), float64(e.h)/2, e.bg)),
			shape(rounded(kx, float64(e.y)+2, float64(e.h)-4, float64(e.h)-4, float64(e.h)/2-2, e.fg)),
		}
	case "icon":
		return iconLayers(e, shape)
	case "gauge":
		return []layer{shape(arc(e, e.bg, 1)), shape(arc(e, e.fg, e.value))}
	case "plot":
		return []layer{shape(plotLayer(e))}
	default: // box
		return []layer{shape(rounded(float64(e.x), float64(e.y), float64(e.w), float64(e.h), 5, e.bg))}
	}
}

func rim(c float64, e edge) float64 {
	switch {
	case c <= 0 || c >= 1:
		return c
	case e == edgeBold:
		return math.Pow(c, 0.6)
	case e == edgeThin:
		return math.Pow(c, 1.7)
	case e == edgeHard:
		return math.Round(c)
	}
	return c
}

// rounded is a rectangle with round corners; coverage falls off over one pixel.
func rounded(x, y, w, h, r float64, col color.RGBA) layer {
	cx, cy := x+w/2, y+h/2
	r = math.Min(r, math.Min(w, h)/2)
	return layer{
		box: image.Rect(int(x)-1, int(y)-1, int(x+w)+2, int(y+h)+2),
		col: col,
		cov: func(px, py int) float64 {
			dx := math.Abs(float64(px)+0.5-cx) - w/2 + r
			dy := math.Abs(float64(py)+0.5-cy) - h/2 + r
			d := math.Hypot(math.Max(dx, 0), math.Max(dy, 0)) + math.Min(math.Max(dx, dy), 0) - r
			return math.Max(0, math.Min(1, 0.5-d))
		},
	}
}

func arc(e element, col color.RGBA, share float64) layer {
	d := math.Min(float64(e.w), float64(e.h))
	cx, cy, ro, ri := float64(e.x)+d/2, float64(e.y)+d/2, d/2-1, d/2-1-math.Max(3, d/9)
	return layer{
		box: image.Rect(e.x, e.y, e.x+int(d)+1, e.y+int(d)+1),
		col: col,
		cov: func(px, py int) float64 {
			x, y := float64(px)+0.5-cx, float64(py)+0.5-cy
			r := math.Hypot(x, y)
			c := math.Max(0, math.Min(1, math.Min(ro-r, r-ri)+0.5))
			// From lower left over the top to lower right, 270 degrees.
			a := math.Mod(math.Atan2(y, x)*180/math.Pi+360+225, 360)
			if a > 270*share {
				return 0
			}
			return c
		},
	}
}

func textWidth(f faces, e element) int {
	return font.MeasureString(f.get(faceKey{e.face, e.size, e.edge == edgeHinted}), e.text).Ceil()
}

// textLayer sets one line whose top left is at x, y.
func textLayer(f faces, e element, x, y int) layer {
	face := f.get(faceKey{e.face, e.size, e.edge == edgeHinted})
	m := face.Metrics()
	w := font.MeasureString(face, e.text).Ceil() + 4
	h := (m.Ascent + m.Descent).Ceil() + 2
	mask := image.NewAlpha(image.Rect(0, 0, w, h))
	dot := fixed.Point26_6{X: fixed.I(1), Y: m.Ascent}
	dot.Y = fixed.I(m.Ascent.Ceil())
	if e.edge == edgeOffset {
		dot.X += 22 // a third of a pixel
	}
	(&font.Drawer{Dst: mask, Src: image.Opaque, Face: face, Dot: dot}).DrawString(e.text)
	return layer{
		box: image.Rect(x, y, x+w, y+h),
		col: e.fg,
		cov: func(px, py int) float64 { return float64(mask.AlphaAt(px-x, py-y).A) / 255 },
	}
}

// iconLayers draws a figure from a seed: a few strokes and discs in a square.
func iconLayers(e element, shape func(layer) layer) []layer {
	var out []layer
	s := e.seed
	next := func(n uint64) float64 {
		s = s*6364136223846793005 + 1442695040888963407
		return float64((s >> 33) % n)
	}
	n := float64(min(e.w, e.h))
	if next(2) == 0 {
		out = append(out, shape(rounded(float64(e.x), float64(e.y), n, n, n/4, e.bg)))
	}
	for range 2 + int(next(2)) {
		x, y := next(10)/20*n, next(10)/20*n
		w, h := n/8+next(10)/18*n, n/8+next(10)/18*n
		r := next(2) * math.Min(w, h) / 2
		out = append(out, shape(rounded(float64(e.x)+x, float64(e.y)+y, math.Min(w, n-x), math.Min(h, n-y), r, e.fg)))
	}
	return out
}

// plotLayer draws a curve of 2 px.
func plotLayer(e element) layer {
	height := func(x float64) float64 {
		a, b := float64(e.seed%7)+2, float64(e.seed%5)+3
		return float64(e.h) * (0.5 + 0.3*math.Sin(x/float64(e.w)*a) + 0.15*math.Sin(x/float64(e.w)*b*3+e.value))
	}
	return layer{
		box: image.Rect(e.x, e.y-2, e.x+e.w, e.y+e.h+2),
		col: e.fg,
		cov: func(px, py int) float64 {
			x := float64(px-e.x) + 0.5
			slope := height(x+0.5) - height(x-0.5)
			d := math.Abs(float64(py-e.y)+0.5-height(x)) / math.Sqrt(1+slope*slope)
			return math.Max(0, math.Min(1, 1.5-d))
		},
	}
}
