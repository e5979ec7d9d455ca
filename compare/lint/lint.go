// Package lint reads a picture of a screen as a critic would, without any golden: text that is cut, runs over
// the edge of its box, touches something or is too pale; boxes in the place of glyphs; colours that the panel
// does not have; things to touch that are too small.
//
// It reads pixels, so it says nothing where it is not sure what is text: text on gradients and photographs, and
// single letters, are not looked at. Findings are hints for a person, who may accept each with a reason
// (accept.go).
package lint

import (
	"fmt"
	"image"
	"sort"

	"github.com/fascia-bench/fascia/capture"
)

// The kinds of findings.
const (
	Contrast  = "contrast"    // text too pale on its ground
	CutPanel  = "cut-panel"   // text cut by the panel's edge
	CutBox    = "cut-box"     // a letter cut in two by the edge of its box
	OverEdge  = "over-edge"   // text that runs over the edge of its box
	Touching  = "touching"    // text that touches or overlaps something
	Shortened = "shortened"   // text that ends in dots for want of room
	NoGlyph   = "no-glyph"    // an empty box where a letter should be
	OffFormat = "off-format"  // colours that the panel's format does not have
	SmallTap  = "small-touch" // something to touch that is small
	Language  = "language"    // one language has no room where others have
)

// Kinds in the order in which they are explained.
var Kinds = []string{Contrast, CutPanel, CutBox, OverEdge, Touching, Shortened, NoGlyph, OffFormat, SmallTap, Language}

// A Finding is something to look at, in pixels of the picture.
type Finding struct {
	Picture string `json:"picture"`
	Kind    string `json:"kind"`
	X       int    `json:"x"`
	Y       int    `json:"y"`
	W       int    `json:"w"`
	H       int    `json:"h"`
	Says    string `json:"says"`
	Why     string `json:"why,omitempty"` // it was accepted, and the reason
}

// Rect is the finding's box.
func (f Finding) Rect() image.Rectangle { return image.Rect(f.X, f.Y, f.X+f.W, f.Y+f.H) }

// A Target is something to touch.
type Target struct {
	Name string
	Box  image.Rectangle
}

// A Picture is what is read, and what is known of it.
type Picture struct {
	Name    string
	Image   image.Image
	Format  capture.Format // of the panel; 0: not known
	Targets []Target
}

// Settings of a reading.
type Settings struct {
	// Text and LargeText are the contrast ratios wanted: WCAG 2.1, success criterion 1.4.3, level AA, has 4.5 and 3.
	Text, LargeText float64
	// Touch is how many pixels a side something to touch has at least. 32 pixels are 5.7 mm on a panel of 320x240
	// and 2.8 inches: common practice, no source.
	Touch int
}

// Defaults are what holds if nobody says otherwise.
var Defaults = Settings{Text: 4.5, LargeText: 3, Touch: 32}

// Check reads pictures. Those that differ in their language alone (same name but for the language's) are also
// held against each other.
func Check(pictures []Picture, s Settings) []Finding {
	var out []Finding
	pages := make([]*page, len(pictures))
	for i, p := range pictures {
		pages[i] = read(p.Image)
		var found []Finding
		found = append(found, pages[i].contrast(s)...)
		found = append(found, pages[i].cut()...)
		found = append(found, pages[i].edges()...)
		found = append(found, pages[i].touching()...)
		found = append(found, pages[i].shortened()...)
		found = append(found, pages[i].noGlyph()...)
		found = append(found, offFormat(p)...)
		found = append(found, smallTargets(p, s)...)
		for j := range found {
			found[j].Picture = p.Name
		}
		out = append(out, found...)
	}
	out = append(out, languages(pictures, pages)...)
	sort.SliceStable(out, func(i, j int) bool {
		a, b := out[i], out[j]
		if a.Picture != b.Picture {
			return a.Picture < b.Picture
		}
		if a.Y != b.Y {
			return a.Y < b.Y
		}
		return a.X < b.X
	})
	return out
}

func finding(kind string, r image.Rectangle, format string, args ...any) Finding {
	return Finding{Kind: kind, X: r.Min.X, Y: r.Min.Y, W: r.Dx(), H: r.Dy(), Says: fmt.Sprintf(format, args...)}
}

// offFormat finds colours that cannot be shown.
func offFormat(p Picture) []Finding {
	if p.Format == 0 || p.Format == capture.Palette8 {
		return nil
	}
	if _, exact := capture.FromImage(p.Image, p.Format, nil); exact {
		return nil
	}
	b := p.Image.Bounds()
	f, _ := capture.FromImage(p.Image, p.Format, nil)
	var box image.Rectangle
	n, first := 0, uint32(0)
	for y := range b.Dy() {
		for x := range b.Dx() {
			want, got := rgb(p.Image.At(b.Min.X+x, b.Min.Y+y)), rgb(f.RGBAAt(x, y))
			if want != got {
				if n++; n == 1 {
					first = want
				}
				box = box.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	if n == 0 {
		return nil
	}
	return []Finding{finding(OffFormat, box, "%d pixels have colours that %v cannot show, #%06x first: the picture is no capture of this panel", n, p.Format, first)}
}

// smallTargets finds things to touch that are too small.
func smallTargets(p Picture, s Settings) []Finding {
	b := p.Image.Bounds()
	var out []Finding
	for _, t := range p.Targets {
		if t.Box.Dx() >= s.Touch && t.Box.Dy() >= s.Touch {
			continue
		}
		out = append(out, finding(SmallTap, t.Box.Intersect(image.Rect(0, 0, b.Dx(), b.Dy())), "%q is %dx%d pixels to touch: less than %d a side is hard to hit (common practice, no source)",
			t.Name, t.Box.Dx(), t.Box.Dy(), s.Touch))
	}
	return out
}

// NewTarget is something to touch at a place.
func NewTarget(name string, x, y, w, h int) Target {
	return Target{name, image.Rect(x, y, x+w, y+h)}
}
