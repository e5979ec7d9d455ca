package compare

import (
	"crypto/sha256"
	"fmt"
	"image"
	"image/color"
	"math/rand/v2"
	"os"
	"strings"
	"sync"
	"testing"
)

// TestSaidOfSmallPanels is TestSaid for many panels of some sixty pixels a side, drawn and changed at random: things at
// edges, over one another, hidden in part, moved onto each other. Nobody has judged what is said of each; it is there to notice
// a change of the code that was not meant, in branches that few screens reach. A line is what was done and the start of a
// hash of all that is said.
func TestSaidOfSmallPanels(t *testing.T) { saidOf(t, "testdata/said-small.txt", 1000, smallPair) }

// TestSaidOfFinerPanels is the same for faults that need more than that: see finerPair.
func TestSaidOfFinerPanels(t *testing.T) { saidOf(t, "testdata/said-finer.txt", 2000, finerPair) }

func saidOf(t *testing.T, file string, n int, pair func(seed uint64) saidPair) {
	const batch = 50
	var was []string
	if !*update {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if was = strings.SplitAfter(string(data), "\n"); len(was) != n+1 {
			t.Fatalf("%s has %d lines for %d pairs: -update writes it again", file, len(was)-1, n)
		}
	}
	lines := make([]string, n)
	for first := 0; first < n; first += batch {
		var wg sync.WaitGroup
		for i := first; i < first+batch; i++ {
			wg.Go(func() {
				p := pair(uint64(i))
				lines[i] = fmt.Sprintf("%s %.4x\n", p.name, sha256.Sum256(said(p.result())))
			})
		}
		wg.Wait()
		for i := first; i < first+batch && !*update; i++ {
			if was[i] != lines[i] {
				t.Fatalf("of pair %d of %s other things are said now; if that is meant, go test ./compare -run TestSaid -update\nwas %snow %s%s",
					i, file, was[i], lines[i], said(pair(uint64(i)).result()))
			}
		}
	}
	if *update {
		if err := os.WriteFile(file, []byte(strings.Join(lines, "")), 0o666); err != nil {
			t.Fatal(err)
		}
	}
}

// A thing is something drawn on a small panel.
type thing struct {
	kind   int // box, frame, disc, text, ramp
	r      image.Rectangle
	c      color.RGBA
	seed   uint64 // of the glyphs of a text
	smooth bool
}

// smallPair is a random screen, and the same after one or two changes; sometimes with options.
func smallPair(seed uint64) saidPair {
	r := rand.New(rand.NewPCG(seed, 77))
	size := image.Pt(24+r.IntN(60), 20+r.IntN(50))
	colour := func() color.RGBA {
		return color.RGBA{byte(r.IntN(6) * 51), byte(r.IntN(6) * 51), byte(r.IntN(6) * 51), 255}
	}
	screen := func() []thing {
		list := []thing{{r: image.Rectangle{Max: size}, c: colour(), kind: []int{0, 0, 0, 4}[r.IntN(4)]}}
		for range 1 + r.IntN(7) {
			w, h := 2+r.IntN(size.X/2), 2+r.IntN(size.Y/2)
			x, y := r.IntN(size.X+4-w)-2, r.IntN(size.Y+4-h)-2
			list = append(list, thing{r.IntN(5), image.Rect(x, y, x+w, y+h), colour(), r.Uint64(), r.IntN(2) == 0})
		}
		return list
	}
	before := screen()
	after := append([]thing(nil), before...)
	name := ""
	var whole func(*image.RGBA) *image.RGBA
	for range 1 + r.IntN(2) {
		i := 1 + r.IntN(len(after)-1)
		what := r.IntN(12)
		switch e := &after[i]; what {
		case 0, 1:
			e.r = e.r.Add(image.Pt(r.IntN(17)-8, r.IntN(17)-8))
		case 2:
			e.c = colour()
		case 3:
			e.r.Max = e.r.Max.Add(image.Pt(r.IntN(9)-4, r.IntN(9)-4))
		case 4:
			e.kind = 9
		case 5:
			after = append(after, thing{r.IntN(5), image.Rect(0, 0, 3+r.IntN(12), 3+r.IntN(9)).Add(image.Pt(r.IntN(size.X), r.IntN(size.Y))), colour(), r.Uint64(), true})
		case 6:
			e.seed++
		case 7:
			e.smooth = !e.smooth
		case 8:
			after[0].c.G += byte(1 + r.IntN(30))
		case 9:
			d := image.Pt(r.IntN(9)-4, 0)
			for k := range after[1:] {
				after[1+k].r = after[1+k].r.Add(d)
			}
		default:
			whole = wholeChange(r, &name)
		}
		name += fmt.Sprint(what, ".")
	}
	p := saidPair{golden: paint(before, size), capture: paint(after, size)}
	if whole != nil {
		p.capture = whole(p.capture)
	}
	switch r.IntN(12) {
	case 0:
		p.opt.Previous = paint(screen(), size)
		name += "p"
	case 1: // rows or all of the look before are still there
		prev := paint(screen(), size)
		at := r.IntN(size.Y+5) - 2
		for y := max(at, 0); y < size.Y && p.capture.Rect == prev.Rect; y++ {
			copy(p.capture.Pix[y*p.capture.Stride:(y+1)*p.capture.Stride], prev.Pix[y*prev.Stride:])
		}
		if p.opt.Previous = prev; r.IntN(2) == 0 {
			p.opt.PreviousGolden = paint(screen(), size)
		}
		name += "t"
	case 2:
		p.opt.Ignore = []image.Rectangle{image.Rect(0, 0, 1+r.IntN(size.X), 1+r.IntN(size.Y)).Add(image.Pt(r.IntN(9)-4, r.IntN(9)-4))}
		name += "i"
	case 3:
		p.opt.Tolerances = []Tolerance{{ColourBelow: float64(r.IntN(12)), Reason: "a"}, {SmallerThan: r.IntN(40), Reason: "b"}, {EdgesOnly: true, Reason: "c",
			Area: image.Rect(0, 0, size.X/2, size.Y)}}[:1+r.IntN(3)]
		name += "l"
	case 4:
		at := image.Pt(r.IntN(size.X), r.IntN(size.Y))
		area := image.Rectangle{at, at.Add(image.Pt(1+r.IntN(size.X/2), 1+r.IntN(size.Y/2)))}.Intersect(image.Rectangle{Max: size})
		if p.capture.Rect == p.golden.Rect {
			p.flushed = &area
		}
		name += "f"
	case 5:
		p.opt.Parts = true
		name += "o"
	}
	p.name = name
	return p
}

// wholeChange is one of a panel's faults.
func wholeChange(r *rand.Rand, name *string) func(*image.RGBA) *image.RGBA {
	kind, a, b := r.IntN(12), r.IntN(9)-4, r.IntN(9)-4
	*name += fmt.Sprintf("w%d.", kind)
	pixels := func(f func(m *image.RGBA, x, y int) color.RGBA) func(*image.RGBA) *image.RGBA {
		return func(m *image.RGBA) *image.RGBA {
			out := image.NewRGBA(m.Rect)
			for y := range m.Rect.Dy() {
				for x := range m.Rect.Dx() {
					out.SetRGBA(x, y, f(m, x, y))
				}
			}
			return out
		}
	}
	levels := func(f func(v byte) byte) func(*image.RGBA) *image.RGBA {
		return pixels(func(m *image.RGBA, x, y int) color.RGBA {
			c := m.RGBAAt(x, y)
			return color.RGBA{f(c.R), f(c.G), f(c.B), 255}
		})
	}
	switch kind {
	case 0:
		return pixels(func(m *image.RGBA, x, y int) color.RGBA { return m.RGBAAt(x+a, y+b) }) // what comes in is black
	case 1:
		return pixels(func(m *image.RGBA, x, y int) color.RGBA {
			return m.RGBAAt((x+a+m.Rect.Dx())%m.Rect.Dx(), (y+b+m.Rect.Dy())%m.Rect.Dy())
		})
	case 2:
		return pixels(func(m *image.RGBA, x, y int) color.RGBA { return m.RGBAAt(m.Rect.Dx()-1-x, y) })
	case 3:
		return pixels(func(m *image.RGBA, x, y int) color.RGBA { return m.RGBAAt(m.Rect.Dx()-1-x, m.Rect.Dy()-1-y) })
	case 4:
		return levels(func(v byte) byte { return 255 - v })
	case 5:
		return pixels(func(m *image.RGBA, x, y int) color.RGBA {
			c := m.RGBAAt(x, y)
			return color.RGBA{c.B, c.G, c.R, 255}
		})
	case 6:
		return levels(func(v byte) byte { return byte(min(255, int(v)*(20+a)/20+b)) })
	case 7:
		return levels(func(v byte) byte { return v &^ (1<<(4+a&3) - 1) })
	case 8:
		return pixels(func(m *image.RGBA, x, y int) color.RGBA {
			i := y*(m.Rect.Dx()+a) + x
			return m.RGBAAt(i%m.Rect.Dx(), i/m.Rect.Dx())
		})
	case 9:
		return pixels(func(m *image.RGBA, x, y int) color.RGBA {
			if x == 3 && y < a {
				return color.RGBA{255, 255, 255, 255}
			}
			return color.RGBA{byte(b), byte(b), 40, 255}
		})
	case 10:
		return func(m *image.RGBA) *image.RGBA { // another size
			out := image.NewRGBA(image.Rect(0, 0, m.Rect.Dx()*(12+a)/12, m.Rect.Dy()*(12+a)/12+b/4))
			for y := range out.Rect.Dy() {
				for x := range out.Rect.Dx() {
					out.SetRGBA(x, y, m.RGBAAt(x*m.Rect.Dx()/out.Rect.Dx(), y*m.Rect.Dy()/out.Rect.Dy()))
				}
			}
			return out
		}
	}
	return func(m *image.RGBA) *image.RGBA { // turned
		out := image.NewRGBA(image.Rect(0, 0, m.Rect.Dy(), m.Rect.Dx()))
		for y := range out.Rect.Dy() {
			for x := range out.Rect.Dx() {
				out.SetRGBA(x, y, m.RGBAAt(y, m.Rect.Dy()-1-x))
			}
		}
		return out
	}
}

// paint draws things one over another.
func paint(list []thing, size image.Point) *image.RGBA {
	m := image.NewRGBA(image.Rectangle{Max: size})
	for _, e := range list {
		for y := max(e.r.Min.Y, 0); y < min(e.r.Max.Y, size.Y); y++ {
			for x := max(e.r.Min.X, 0); x < min(e.r.Max.X, size.X); x++ {
				m.SetRGBA(x, y, mixed(m.RGBAAt(x, y), e.c, e.covers(x-e.r.Min.X, y-e.r.Min.Y)))
			}
		}
	}
	return m
}

// covers is how much of a pixel, in quarters, the thing covers.
func (e thing) covers(x, y int) int {
	w, h := e.r.Dx(), e.r.Dy()
	switch e.kind {
	case 0:
		return 4
	case 1:
		if x == 0 || y == 0 || x == w-1 || y == h-1 {
			return 4
		}
	case 2:
		dx, dy := (2*x+1-w)*h, (2*y+1-h)*w
		d := dx*dx + dy*dy - w*w*h*h
		if d <= 0 {
			return 4
		}
		if e.smooth && d < w*w*h*h/4 {
			return 2
		}
	case 3: // glyphs of 3x5 in cells of 5x7
		gx, gy := x%5, y%7
		if gx > 2 || gy > 4 {
			return 0
		}
		glyph := (e.seed ^ uint64(x/5*7+y/7*13)) * 0x9e3779b97f4a7c15 >> 40
		if glyph>>(gy*3+gx)&1 == 1 {
			return 4
		}
		if e.smooth && gx > 0 && glyph>>(gy*3+gx-1)&1 == 1 {
			return 1
		}
	case 4:
		return 4 * y / h
	}
	return 0
}

func mixed(a, b color.RGBA, quarters int) color.RGBA {
	m := func(x, y byte) byte { return byte((int(x)*(4-quarters) + int(y)*quarters) / 4) }
	return color.RGBA{m(a.R, b.R), m(a.G, b.G), m(a.B, b.B), 255}
}
