package report

import (
	"fmt"
	"image"
	"os"

	"golang.org/x/image/font"

	"github.com/fascia-bench/fascia/suites/record"
)

const (
	trailWide = 1420 // of the picture, px, as long as one leg fits
	trailRoom = 320  // of a frame
	wayWide   = 136  // of the inputs before a frame
	railRoom  = 34   // over a frame: the line and the verdict
	trailMost = 400  // looks in one picture: beyond, it would be larger than programs open
)

// Trail draws a walk of a run as one picture: its looks in order, the verdict of each over it, and
// between them the inputs that led from one to the next; a letter marks where an input touched the
// frame before. Findings are ringed, ignored areas hatched. A frame whose picture is missing is an empty
// box that says so.
func Trail(runDir string, run *record.Run, walk string) (image.Image, error) {
	root, err := os.OpenRoot(runDir)
	if err != nil {
		return nil, fmt.Errorf("draw trail of walk %q: %w", walk, err)
	}
	defer root.Close()
	w, err := filmed(runDir, run, walk)
	if err != nil {
		return nil, fmt.Errorf("draw trail of walk %q: %w", walk, err)
	}
	paintLock.Lock()
	defer paintLock.Unlock()
	return drawTrail(root, run, w), nil
}

// A drawnLeg is a look ready to be placed.
type drawnLeg struct {
	look    record.Look
	img     image.Image
	without string
	size    image.Point // of the panel
	k       float64
	inputs  []drawnInput
	name    []string
	touches []touch
	w, h    int // of the whole leg
	way     int
}

type drawnInput struct {
	letter string
	lines  []string
}

func drawTrail(root *os.Root, run *record.Run, w *walkOf) image.Image {
	legs := legsOf(root, run, w)
	// Break into rows, then see how large the picture becomes.
	var rows [][]*drawnLeg
	wide, x := 0, 0
	for _, g := range legs {
		if len(rows) == 0 || x+g.w > trailWide-2*margin {
			rows, x = append(rows, nil), 0
		}
		rows[len(rows)-1] = append(rows[len(rows)-1], g)
		x += g.w
		wide = max(wide, x)
	}
	high := margin
	for _, row := range rows {
		high += rowHeight(row) + margin
	}
	c := newCanvas(wide+2*margin, high)
	y := margin
	for _, row := range rows {
		x := margin
		for _, g := range row {
			g.draw(c, x, y)
			x += g.w
		}
		y += rowHeight(row) + margin
	}
	return c.RGBA
}

func rowHeight(row []*drawnLeg) int {
	h := 0
	for _, g := range row {
		h = max(h, g.h)
	}
	return h
}

func legsOf(root *os.Root, run *record.Run, w *walkOf) []*drawnLeg {
	f := theFaces()
	var legs []*drawnLeg
	for i, l := range w.looks {
		g := &drawnLeg{look: l, size: image.Pt(run.Device.Width, run.Device.Height)}
		switch l.Verdict {
		case record.NotReached:
			g.without = "not reached"
		case record.NoCapture:
			g.without = "no capture"
			if l.Why != "" {
				g.without += ": " + l.Why
			}
		default:
			g.without = "no picture"
			if l.Capture != "" {
				g.img, g.without = readPicture(root, l.Capture)
			}
		}
		if g.img != nil {
			g.size = sizeOf(g.img)
		} else if g.size.X < 16 || g.size.Y < 16 || g.size.X > 4096 || g.size.Y > 4096 {
			g.size = image.Pt(320, 240)
		}
		g.k = reduced(span(g.size), trailRoom)
		before := image.Rectangle{Max: g.size}
		if i > 0 {
			before.Max = legs[i-1].size
		}
		letters, touches := lettered(l.Path, before)
		marked := i > 0 && legs[i-1].img != nil
		if marked {
			legs[i-1].touches = touches
		}
		for j, in := range l.Path {
			d := drawnInput{lines: wrap(f.regular, in.Says, wayWide-40, 5)}
			if marked {
				d.letter = letters[j]
			}
			g.inputs = append(g.inputs, d)
		}
		if len(g.inputs) > 0 || i > 0 {
			g.way = wayWide
		}
		g.w = g.way + scaled(g.size.X, g.k)
		g.name = wrap(f.bold, named(l.Look), scaled(g.size.X, g.k), 2)
		below := railRoom + scaled(g.size.Y, g.k) + 8 + len(g.name)*lineStep
		beside := railRoom
		for _, in := range g.inputs {
			beside += len(in.lines)*lineStep + 5
		}
		g.h = max(below, beside)
		legs = append(legs, g)
	}
	return legs
}

func (g *drawnLeg) draw(c canvas, x, y int) {
	f := theFaces()
	fx := x + g.way
	mid := y + 9
	// The line, with the station on it.
	word := string(g.look.Verdict)
	clear := image.Rect(fx-3, mid-9, fx+26+font.MeasureString(f.bold, word).Ceil(), mid+9)
	for _, r := range []image.Rectangle{{image.Pt(x, mid-1), image.Pt(clear.Min.X, mid+1)}, {image.Pt(clear.Max.X, mid-1), image.Pt(x+g.w, mid+1)}} {
		if g.look.Verdict == record.NotReached {
			for px := r.Min.X; px < r.Max.X; px += 6 {
				c.fill(image.Rect(px, r.Min.Y, min(px+2, r.Max.X), r.Max.Y), quiet)
			}
			continue
		}
		c.fill(r, pen)
	}
	c.station(vec{float64(fx + 7), float64(mid)}, g.look.Verdict)
	face := f.bold
	if g.look.Verdict == record.Same || g.look.Verdict == record.NotReached {
		face = f.regular
	}
	c.text(face, fx+19, mid+5, word, ink)

	p := placed{c, image.Pt(fx, y+railRoom), g.k}
	p.picture(g.img, g.size, g.without)
	panel := image.Rectangle{Max: g.size}
	if g.img != nil {
		for _, m := range masksOf(g.look, panel) {
			c.hatch(p.rect(m))
		}
		if g.look.Verdict == record.Differs {
			p.rings(ringsOnly(g.look.Finding, panel))
		}
		p.touches(g.touches)
	}
	c.lines(f.bold, fx, y+railRoom+scaled(g.size.Y, g.k)+21, g.name, ink)

	ty := y + railRoom + 12
	for _, in := range g.inputs {
		if in.letter != "" {
			at := image.Pt(x+19, ty-4)
			c.disc(vecOf(at), 7.5, touched)
			c.centred(at, in.letter, white)
		} else {
			c.fill(image.Rect(x+14, ty-5, x+23, ty-3), pen)
		}
		ty = c.lines(f.regular, x+31, ty, in.lines, pen) + 5
	}
}

// station draws the mark of a verdict: each its own shape, as on the page.
func (c canvas) station(at vec, v record.Verdict) {
	x, y := at.x, at.y
	switch v {
	case record.Same:
		c.disc(at, 5, pen)
		c.disc(at, 3, paper)
	case record.Differs:
		c.polygon([]vec{{x, y - 7}, {x + 7, y}, {x, y + 7}, {x - 7, y}}, amber)
	case record.Unapproved:
		c.frame(image.Rect(int(x)-6, int(y)-6, int(x)+6, int(y)+6), 2, amber)
		c.line(vec{x - 3, y}, vec{x + 3, y}, 2, amber)
		c.line(vec{x, y - 3}, vec{x, y + 3}, 2, amber)
	case record.NoCapture:
		c.line(vec{x - 5, y - 5}, vec{x + 5, y + 5}, 2.5, amber)
		c.line(vec{x - 5, y + 5}, vec{x + 5, y - 5}, 2.5, amber)
	default:
		for i := range 3 {
			c.line(vec{x - 7 + 5*float64(i), y}, vec{x - 4 + 5*float64(i), y}, 2, quiet)
		}
	}
}
