package pairs

import (
	"image"
	"image/color"
	"math"
)

// Parts of pictures that were not drawn here are cut out of their flat ground, changed and
// put back.

// piece is content on a flat ground.
type piece struct {
	box    image.Rectangle
	ground color.RGBA
}

// findPiece looks for content of the size of a word or an icon that stands free.
func (s *Source) findPiece(m *image.RGBA) (piece, bool) {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	for range 60 {
		x, y := s.rng.IntN(w), s.rng.IntN(h)
		win := image.Rect(x-40, y-20, x+40, y+20).Intersect(m.Rect)
		ground := commonest(m, win)
		if m.RGBAAt(x, y) == ground {
			continue
		}
		// Grow a box until the frame around it is ground.
		b := image.Rect(x, y, x+1, y+1)
		for grown := true; grown && b.Dx() <= w/2 && b.Dy() <= h/2; {
			grown = false
			for _, side := range []image.Rectangle{
				image.Rect(b.Min.X-4, b.Min.Y-2, b.Min.X, b.Max.Y+2), image.Rect(b.Max.X, b.Min.Y-2, b.Max.X+4, b.Max.Y+2),
				image.Rect(b.Min.X-2, b.Min.Y-3, b.Max.X+2, b.Min.Y), image.Rect(b.Min.X-2, b.Max.Y, b.Max.X+2, b.Max.Y+3),
			} {
				if c := contentIn(m, side.Intersect(m.Rect), ground); !c.Empty() {
					b = b.Union(c)
					grown = true
				}
			}
		}
		if b.Dx() < 5 || b.Dy() < 5 || b.Dx() > w/2 || b.Dy() > h/2 || !b.Inset(-3).In(m.Rect) {
			continue
		}
		return piece{b, ground}, true
	}
	return piece{}, false
}

// content is a box of a picture without its ground, as a picture of one row.
func content(m *image.RGBA, b image.Rectangle, ground color.RGBA) (*image.RGBA, image.Rectangle) {
	var px []color.RGBA
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if c := m.RGBAAt(x, y); c != ground {
				px = append(px, c)
			}
		}
	}
	out := image.NewRGBA(image.Rect(0, 0, len(px), 1))
	for x, c := range px {
		out.SetRGBA(x, 0, c)
	}
	return out, out.Rect
}

func commonest(m *image.RGBA, r image.Rectangle) color.RGBA {
	count := map[color.RGBA]int{}
	var best color.RGBA
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			c := m.RGBAAt(x, y)
			if count[c]++; count[c] > count[best] {
				best = c
			}
		}
	}
	return best
}

func contentIn(m *image.RGBA, r image.Rectangle, ground color.RGBA) image.Rectangle {
	var out image.Rectangle
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			if m.RGBAAt(x, y) != ground {
				out = out.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	return out
}

// cutPart applies a part fault to a piece of a picture.
func (s *Source) cutPart(cause, name string, g *image.RGBA) (Pair, bool) {
	r := s.rng
	pc, ok := s.findPiece(g)
	if !ok {
		return Pair{}, false
	}
	b := pc.box
	c := clone(g)
	wipe := func(m *image.RGBA, b image.Rectangle) {
		for y := b.Min.Y; y < b.Max.Y; y++ {
			for x := b.Min.X; x < b.Max.X; x++ {
				m.SetRGBA(x, y, pc.ground)
			}
		}
	}
	d := map[string]any{}
	p := Pair{Golden: g, Capture: c, Part: Fault{cause, d}, Screen: name + " cut"}
	ink := farthest(g, b, pc.ground)
	if cause == "recoloured" || cause == "edges" {
		// A card nearly of its ground's colour is no blend of ground and ink.
		if coverage(commonest(content(g, b, pc.ground)), pc.ground, ink) < 0.6 {
			return p, false
		}
	}
	// free tells whether content may be put into a box.
	free := func(to image.Rectangle) bool {
		if !to.Inset(-2).In(g.Rect) {
			return false
		}
		around := clone(g)
		wipe(around, b)
		return contentIn(around, to.Inset(-2), pc.ground).Empty()
	}
	switch cause {
	case "missing":
		wipe(c, b)
	case "added":
		p.Golden, p.Capture = c, g
		wipe(c, b)
	case "moved":
		dx, dy := r.IntN(13)-6, r.IntN(13)-6
		if r.IntN(3) == 0 {
			dx, dy = r.IntN(81)-40, r.IntN(61)-30
		}
		d["dx"], d["dy"] = dx, dy
		to := b.Add(image.Pt(dx, dy))
		if !free(to) {
			return p, false
		}
		wipe(c, b)
		for y := b.Min.Y; y < b.Max.Y; y++ {
			for x := b.Min.X; x < b.Max.X; x++ {
				c.SetRGBA(x+dx, y+dy, g.RGBAAt(x, y))
			}
		}
	case "recoloured":
		to := color.RGBA{uint8(r.IntN(256)), uint8(r.IntN(256)), uint8(r.IntN(256)), 255}
		d["from"], d["to"] = ink, to
		if apart(to, ink) < 40 || apart(to, pc.ground) < 40 {
			return p, false
		}
		each2(c, b, func(q color.RGBA) color.RGBA { return mix(pc.ground, to, coverage(q, pc.ground, ink)) }, pc.ground)
	case "resized":
		f := 0.6 + 0.9*r.Float64()
		w, h := int(math.Round(float64(b.Dx())*f)), int(math.Round(float64(b.Dy())*f))
		to := image.Rect(b.Min.X, b.Min.Y, b.Min.X+w, b.Min.Y+h)
		if math.Abs(f-1) < 0.12 || !free(to) {
			return p, false
		}
		wipe(c, b)
		for y := range h {
			for x := range w {
				c.SetRGBA(b.Min.X+x, b.Min.Y+y, bilinear(g, b, (float64(x)+0.5)/f-0.5, (float64(y)+0.5)/f-0.5))
			}
		}
	case "text":
		if !otherOrder(g, c, b, pc.ground) {
			return p, false
		}
	case "edges":
		mode := []edge{edgeBold, edgeThin, edgeHard}[r.IntN(3)]
		each2(c, b, func(q color.RGBA) color.RGBA { return mix(pc.ground, ink, rim(coverage(q, pc.ground, ink), mode)) }, pc.ground)
		// Only where the piece is one colour blended with its ground is this an edge.
		for y := b.Min.Y; y < b.Max.Y; y++ {
			for x := b.Min.X; x < b.Max.X; x++ {
				q := g.RGBAAt(x, y)
				if apart(q, mix(pc.ground, ink, coverage(q, pc.ground, ink))) > 24 {
					return p, false
				}
			}
		}
	}
	return p, true
}

// farthest is the colour in a box that is farthest from the ground.
func farthest(m *image.RGBA, b image.Rectangle, ground color.RGBA) color.RGBA {
	best := ground
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if c := m.RGBAAt(x, y); apart(c, ground) > apart(best, ground) {
				best = c
			}
		}
	}
	return best
}

// coverage is how far a colour lies on the way from ground to ink.
func coverage(c, ground, ink color.RGBA) float64 {
	dot := func(a, b color.RGBA) float64 {
		return (float64(a.R)-float64(ground.R))*(float64(b.R)-float64(ground.R)) +
			(float64(a.G)-float64(ground.G))*(float64(b.G)-float64(ground.G)) +
			(float64(a.B)-float64(ground.B))*(float64(b.B)-float64(ground.B))
	}
	return math.Max(0, math.Min(1, dot(c, ink)/math.Max(1, dot(ink, ink))))
}

func each2(m *image.RGBA, b image.Rectangle, f func(color.RGBA) color.RGBA, except color.RGBA) {
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if c := m.RGBAAt(x, y); c != except {
				m.SetRGBA(x, y, f(c))
			}
		}
	}
}

func bilinear(g *image.RGBA, b image.Rectangle, x, y float64) color.RGBA {
	at := func(x, y int) color.RGBA {
		return g.RGBAAt(b.Min.X+max(0, min(b.Dx()-1, x)), b.Min.Y+max(0, min(b.Dy()-1, y)))
	}
	x0, y0 := int(math.Floor(x)), int(math.Floor(y))
	fx, fy := x-float64(x0), y-float64(y0)
	return mix(mix(at(x0, y0), at(x0+1, y0), fx), mix(at(x0, y0+1), at(x0+1, y0+1), fx), fy)
}

// otherOrder writes the letters of a word in reverse order, each as it was.
func otherOrder(g, c *image.RGBA, b image.Rectangle, ground color.RGBA) bool {
	if b.Dy() > 40 || b.Dx() < 2*b.Dy() {
		return false
	}
	type span struct{ from, to int }
	var letters []span
	in := false
	for x := b.Min.X; x <= b.Max.X; x++ {
		full := x < b.Max.X && !contentIn(g, image.Rect(x, b.Min.Y, x+1, b.Max.Y), ground).Empty()
		if full && !in {
			letters = append(letters, span{x, x})
		}
		if in && !full {
			letters[len(letters)-1].to = x
		}
		in = full
	}
	if len(letters) < 3 {
		return false
	}
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			c.SetRGBA(x, y, ground)
		}
	}
	x := b.Min.X
	for i := len(letters) - 1; i >= 0; i-- {
		l := letters[i]
		for k := l.from; k < l.to; k++ {
			for y := b.Min.Y; y < b.Max.Y; y++ {
				c.SetRGBA(x, y, g.RGBAAt(k, y))
			}
			x++
		}
		if i > 0 {
			x += l.from - letters[i-1].to
		}
	}
	return true
}
