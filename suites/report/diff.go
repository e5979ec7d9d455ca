package report

import (
	"image"
	"image/draw"
	"strconv"

	"github.com/disintegration/imaging"
	"golang.org/x/image/font"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare"
)

const (
	margin   = 20
	headRoom = 24 // for the words over a picture
	diffRoom = 480
)

// Diff shows a comparison as one picture: golden and capture side by side at a whole scale (one
// over a whole number for pictures above 960x1280 px), changed regions ringed and numbered,
// ignored areas hatched, and below them what is said of each.
//
// ignored are the areas that did not count, in panel coordinates. A picture that is nil is shown as an
// empty box.
func Diff(golden, capture image.Image, res compare.Result, ignored ...image.Rectangle) image.Image {
	paintLock.Lock()
	defer paintLock.Unlock()
	f := theFaces()
	gs, cs := sizeOf(golden), sizeOf(capture)
	widest := max(span(gs), span(cs), 1)
	k := enlarged(widest, diffRoom, 6)
	if widest > 2*diffRoom {
		k = reduced(widest, 2*diffRoom)
	}
	panel := image.Rectangle{Max: cs}
	rings, notes := ringsAndNotes(res, panel, int(float64(tagSize)/k+0.5))

	gw, cw := scaled(max(gs.X, 40), k), scaled(max(cs.X, 40), k)
	tall := max(scaled(max(gs.Y, 30), k), scaled(max(cs.Y, 30), k))
	// A narrow pair leaves the sentences no room: they need some forty letters a line.
	indent := 0
	for _, n := range notes {
		indent = max(indent, font.MeasureString(f.bold, n.Numbers()).Ceil()+12)
	}
	width := max(2*margin+gw+margin+cw, 2*margin+320+indent)
	legend := legendOf(notes, res, width-2*margin-indent)
	height := margin + headRoom + tall + margin
	for _, l := range legend {
		height += len(l.lines)*lineStep + 6
	}
	c := newCanvas(width, height)
	y := margin + headRoom
	g := placed{c, image.Pt(margin, y), k}
	n := placed{c, image.Pt(margin+gw+margin, y), k}
	c.text(f.bold, g.at.X, y-9, "golden", ink)
	c.text(f.bold, n.at.X, y-9, "capture", ink)
	g.picture(golden, gs, "no golden")
	n.picture(capture, cs, "no capture")
	for _, p := range []struct {
		placed
		size image.Point
	}{{g, gs}, {n, cs}} {
		panel := image.Rectangle{Max: p.size}
		for _, r := range ignored {
			c.hatch(p.rect(r.Intersect(panel)))
		}
		p.rings(ringsIn(rings, panel))
	}
	y += tall + margin + 4
	for _, l := range legend {
		c.text(f.bold, margin, y, l.numbers, amber)
		y = c.lines(f.regular, margin+indent, y, l.lines, ink) + 6
	}
	return c.RGBA
}

type legendLine struct {
	numbers string
	lines   []string
}

func legendOf(notes []note, res compare.Result, width int) []legendLine {
	f := theFaces().regular
	var out []legendLine
	for _, n := range notes {
		s := n.Cause.Says
		for _, w := range n.Cause.With {
			s += " And then: " + w.Says
		}
		if a := n.Alike(); a != "" {
			s += " " + a
		}
		out = append(out, legendLine{n.Numbers(), wrap(f, s, width, 6)})
	}
	switch {
	case res.Same:
		out = append(out, legendLine{"", wrap(f, "No pixel that counts differs.", width, 2)})
	case res.Size.Golden != res.Size.Capture:
		out = append(out, legendLine{"", wrap(f, sizesDiffer(res), width, 2)})
	}
	return out
}

func sizeOf(m image.Image) image.Point {
	if m == nil || m.Bounds().Empty() {
		return image.Point{}
	}
	return m.Bounds().Size()
}

func scaled(n int, k float64) int { return int(float64(n)*k + 0.5) }

// A placed panel is where on a canvas a panel's pixels go, and how large.
type placed struct {
	c  canvas
	at image.Point
	k  float64
}

func (p placed) point(q image.Point) image.Point {
	// The middle of the pixel, so that a mark sits on what it marks.
	half := int(p.k / 2)
	return p.at.Add(image.Pt(scaled(q.X, p.k)+half, scaled(q.Y, p.k)+half))
}

func (p placed) rect(r image.Rectangle) image.Rectangle {
	return image.Rect(scaled(r.Min.X, p.k), scaled(r.Min.Y, p.k), scaled(r.Max.X, p.k), scaled(r.Max.Y, p.k)).Add(p.at)
}

// picture puts img there, or an empty box of the given size with a word in it.
func (p placed) picture(img image.Image, size image.Point, without string) {
	if sizeOf(img) == (image.Point{}) {
		size = image.Pt(max(size.X, 40), max(size.Y, 30))
		box := p.rect(image.Rectangle{Max: size})
		p.c.dashed(box, quiet)
		lines := wrap(theFaces().regular, without, box.Dx()-12, max(1, (box.Dy()-8)/lineStep))
		p.c.lines(theFaces().regular, box.Min.X+8, box.Min.Y+20, lines, quiet)
		return
	}
	filter := imaging.NearestNeighbor
	if p.k < 1 {
		filter = imaging.Box
	}
	box := p.rect(image.Rectangle{Max: size})
	big := imaging.Resize(picture.Pix(img), box.Dx(), box.Dy(), filter)
	draw.Draw(p.c.RGBA, box, big, image.Point{}, draw.Src)
	p.c.frame(box.Inset(-1), 1, rule)
}

func (p placed) rings(rings []ring) {
	for _, r := range rings {
		p.c.ring(p.rect(r.Box).Inset(-ringGap - 2))
	}
	for _, r := range rings {
		if r.N > 0 {
			p.c.tag(p.at.Add(image.Pt(scaled(r.Tag.X, p.k), scaled(r.Tag.Y, p.k))), strconv.Itoa(r.N))
		}
	}
}

func (p placed) touches(touches []touch) {
	for _, t := range touches {
		at := p.point(t.At)
		from := at
		for _, q := range t.Path {
			to := p.point(q)
			p.c.line(vecOf(from), vecOf(to), 5, white)
			p.c.line(vecOf(from), vecOf(to), 2.5, touched)
			from = to
		}
		if len(t.Path) > 0 {
			p.c.disc(vecOf(from), 5, touched)
			p.c.disc(vecOf(from), 3, white)
		}
		p.c.disc(vecOf(at), 9, white)
		p.c.disc(vecOf(at), 7.5, touched)
		p.c.centred(at, t.Letter, white)
	}
}
