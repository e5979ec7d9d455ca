package report

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"os"
	"strings"
	"unicode/utf8"

	"golang.org/x/image/font"

	"github.com/fascia-bench/fascia/suites/record"
)

// Of a film: room in px, and how long its frames are shown, in hundredths of a second.
const (
	filmRoom   = 640 // of the panel
	filmMargin = 16
	stripHigh  = 62 // below the panel

	touchFor = 28
	dragFor  = 7
	dragIn   = 8 // frames
	wordsFor = 75
	lookFor  = 150
	ringsFor = 170
	endFor   = 250
)

// A projector paints the frames of a walk.
type projector struct {
	root *os.Root
	run  *record.Run
	w    *walkOf
	show func(canvas, int)

	size image.Point // of the largest panel
	k    float64
	at   int // look being shown or led to
	img  image.Image
	void string // why there is no picture
}

func newProjector(root *os.Root, run *record.Run, w *walkOf, show func(canvas, int)) *projector {
	p := &projector{root: root, run: run, w: w, show: show, size: image.Pt(run.Device.Width, run.Device.Height), void: "before the walk"}
	for _, l := range w.looks {
		if l.Capture != "" {
			img, _ := readPicture(root, l.Capture)
			s := sizeOf(img)
			p.size = image.Pt(max(p.size.X, s.X), max(p.size.Y, s.Y))
		}
	}
	if p.size.X < 16 || p.size.Y < 16 || p.size.X > 4096 || p.size.Y > 4096 {
		p.size = image.Pt(320, 240)
	}
	p.k = enlarged(span(p.size), filmRoom, 4)
	if span(p.size) > filmRoom {
		p.k = reduced(span(p.size), filmRoom)
	}
	return p
}

func (p *projector) play() {
	p.before(p.w.looks[0])
	for i, l := range p.w.looks {
		p.at = i
		for _, in := range l.Path {
			p.input(in)
		}
		p.look(l)
	}
}

// before finds what was shown before the first look: a walk that starts from another goes on where that ended.
func (p *projector) before(first record.Look) {
	if len(first.Path) == 0 {
		return
	}
	name, starts := strings.CutPrefix(first.Path[0].Says, "walk ")
	if !starts {
		return
	}
	for _, w := range walksOf(p.run) {
		if n := len(w.looks); w.Walk.Walk == name && n > 0 && w.looks[n-1].Capture != "" {
			p.img, _ = readPicture(p.root, w.looks[n-1].Capture)
		}
	}
}

// input shows one input in the picture before it.
func (p *projector) input(in record.Input) {
	panel := image.Rectangle{Max: p.size}
	var pts []vec
	for _, q := range in.Points {
		pts = append(pts, vecOf(p.placed(canvas{}).point(clampTo(q, panel))))
	}
	frame := func(hundredths int, over func(canvas)) {
		c := p.canvas()
		over(c)
		p.says(c, in)
		p.show(c, hundredths)
	}
	if len(pts) == 0 {
		frame(wordsFor, func(canvas) {})
		return
	}
	frame(touchFor, func(c canvas) { c.finger(pts[0], 16) })
	frame(touchFor, func(c canvas) { c.finger(pts[0], 10) })
	for i := 1; i < len(pts); i++ {
		for j := 1; j <= dragIn; j++ {
			t := float64(j) / dragIn
			now := vec{pts[i-1].x + t*(pts[i].x-pts[i-1].x), pts[i-1].y + t*(pts[i].y-pts[i-1].y)}
			frame(dragFor, func(c canvas) {
				way := append(append([]vec{}, pts[:i]...), now)
				for n := 1; n < len(way); n++ {
					c.line(way[n-1], way[n], 5, white)
					c.line(way[n-1], way[n], 2.5, touched)
				}
				c.finger(now, 10)
			})
		}
	}
}

// finger draws a touch that is seen on any ground; it is wider before it touches.
func (c canvas) finger(at vec, r float64) {
	c.circle(at, r+2, r, white)
	c.circle(at, r, r-2.5, touched)
	c.disc(at, 5, white)
	c.disc(at, 3.5, touched)
}

// circle draws a ring between two radii.
func (c canvas) circle(at vec, outer, inner float64, col color.Color) {
	const n = 40
	for i := range n {
		a, b := 2*math.Pi*float64(i)/n, 2*math.Pi*float64(i+1)/n
		p := func(r, t float64) vec { return vec{at.x + r*math.Cos(t), at.y + r*math.Sin(t)} }
		c.polygon([]vec{p(outer, a), p(outer, b), p(inner, b), p(inner, a)}, col)
	}
}

func (p *projector) look(l record.Look) {
	p.img, p.void = nil, string(l.Verdict)
	switch l.Verdict {
	case record.NotReached:
		p.void = "not reached"
	case record.NoCapture:
		p.void = strings.TrimSuffix("no capture: "+l.Why, ": ")
	default:
		if l.Capture != "" {
			p.img, p.void = readPicture(p.root, l.Capture)
		}
	}
	long := lookFor
	last := p.at == len(p.w.looks)-1
	rings := l.Verdict == record.Differs && p.img != nil
	if last && !rings {
		long = endFor
	}
	p.frame(l, long, false)
	if rings {
		if long = ringsFor; last {
			long = endFor
		}
		p.frame(l, long, true)
	}
}

func (p *projector) frame(l record.Look, hundredths int, rings bool) {
	c := p.canvas()
	if rings {
		p.placed(c).rings(ringsOnly(l.Finding, image.Rectangle{Max: sizeOf(p.img)}))
	}
	f := theFaces()
	y := p.strip() + 40
	c.station(vec{filmMargin + 8, float64(y) - 5}, l.Verdict)
	x := filmMargin + 22
	c.text(f.bold, x, y, named(l.Look), ink)
	x += font.MeasureString(f.bold, named(l.Look)).Ceil() + 10
	c.text(f.regular, x, y, string(l.Verdict), quiet)
	p.show(c, hundredths)
}

func (p *projector) placed(c canvas) placed {
	return placed{c, image.Pt(filmMargin, filmMargin), p.k}
}

// strip is where what stands below the panel begins.
func (p *projector) strip() int { return filmMargin + scaled(p.size.Y, p.k) + 4 }

// canvas is a frame with the picture as it is, the walk's name and how far it is.
func (p *projector) canvas() canvas {
	wide := scaled(p.size.X, p.k) + 2*filmMargin
	c := newCanvas(wide, p.strip()+stripHigh)
	size := p.size
	if p.img != nil {
		size = sizeOf(p.img)
	}
	p.placed(c).picture(p.img, size, p.void)
	f := theFaces()
	y := p.strip()
	c.lines(f.regular, filmMargin, y+18, wrap(f.regular, named(p.w.Walk.Walk)+" · "+p.run.Device.Firmware+" "+p.run.Device.Build, wide-2*filmMargin, 1), quiet)
	// The line of the walk, with what is behind drawn full.
	n := len(p.w.looks)
	to := filmMargin + (wide-2*filmMargin)*(p.at+1)/n
	c.fill(image.Rect(filmMargin, y+stripHigh-10, wide-filmMargin, y+stripHigh-8), rule)
	c.fill(image.Rect(filmMargin, y+stripHigh-11, to, y+stripHigh-7), pen)
	return c
}

// says writes an input below the panel: keys as caps, the knob with the way it turns, all else in words.
func (p *projector) says(c canvas, in record.Input) {
	f := theFaces()
	x, y := filmMargin, p.strip()+40
	what, rest, _ := strings.Cut(in.Says, " ")
	switch what {
	case "key":
		for i, name := range strings.Split(rest, " + ") {
			if i > 0 {
				c.text(f.regular, x, y, "+", quiet)
				x += 14
			}
			x = c.keycap(x, y, name) + 6
		}
		return
	case "type":
		if text := strings.Trim(rest, `"`); utf8.RuneCountInString(text) <= 24 {
			for _, r := range text {
				x = c.keycap(x, y, string(r)) + 3
			}
			return
		}
	case "turn", "roll":
		at := vec{float64(x + 10), float64(y - 5)}
		c.circle(at, 10, 7.5, pen)
		way := 1.0
		if strings.HasPrefix(rest, "-") {
			way = -1
		}
		c.line(at, vec{at.x + way*6, at.y - 6}, 2.5, pen)
		x += 28
	default:
		c.fill(image.Rect(x, y-6, x+12, y-4), pen)
		x += 20
	}
	c.lines(f.regular, x, y, wrap(f.regular, in.Says, c.Rect.Dx()-x-filmMargin, 1), pen)
}

// keycap draws a key with its name and returns where it ends.
func (c canvas) keycap(x, y int, name string) int {
	f := theFaces().bold
	w := max(font.MeasureString(f, name).Ceil()+14, 22)
	box := image.Rect(x, y-16, x+w, y+7)
	c.fill(box, pen)
	draw.Draw(c.RGBA, image.Rect(x+2, y-14, x+w-2, y+3), image.NewUniform(white), image.Point{}, draw.Src)
	c.text(f, x+(w-font.MeasureString(f, name).Ceil())/2, y-1, name, ink)
	return x + w
}
