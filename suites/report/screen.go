package report

import (
	"image"
	"strconv"

	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/suites/record"
)

// A screen is a picture on the page with what is drawn over it, in panel px. It is an SVG, so
// that rings stand where they belong at any size and one embedded picture serves many places.
type screen struct {
	Class   string
	Label   string // what a screen reader says
	Pic     string // ID of the picture; empty when there is none
	Missing string // why there is none
	Box     image.Rectangle
	// K is how many CSS px one panel px takes. It is whole, or one over a whole number.
	K       float64
	Rings   []ring
	Outline string // ID of the path around all rings
	Masks   []image.Rectangle
	Touches []touch
}

// A touch is a tap or a drag drawn on the frame in which it was made.
type touch struct {
	Letter string
	At     image.Point   // where it began
	Path   []image.Point // of a drag, its other points
}

// Tag is the radius of a number, in panel px: a number has the same size on panels of any size.
func (s screen) Tag() int { return tagRadius(s.K) }

func tagRadius(k float64) int { return max(2, int(8.5/k+0.5)) }

// Sizes at which pictures are shown, in CSS px: a pair of plates and a note go beside one
// another on 1280 px, and one frame of a trail beside its inputs on a phone.
const (
	plateRoom  = 360
	frameRoom  = 240
	phoneRoom  = 330
	detailRoom = 190
	detailMax  = 8 // times; more shows no more
)

// span is the side by which a picture is scaled: its width, or three quarters of its height if it
// is that tall.
func span(size image.Point) int { return max(size.X, size.Y*3/4) }

// enlarged is the largest whole scale at which side px fit into room, and at least 1.
func enlarged(side, room, most int) float64 {
	return float64(min(max(room/max(side, 1), 1), most))
}

// reduced is the whole scale, or one over a whole number, at which side px fit into room.
func reduced(side, room int) float64 {
	if side <= room {
		return enlarged(side, room, 3)
	}
	return 1 / float64((side+room-1)/room)
}

// broad marks a screen that a phone cannot show pixel by pixel.
func (s *screen) broad() {
	if float64(s.Box.Dx())*s.K > phoneRoom {
		s.Class = "broad"
	}
}

// onShelf starts a screen from a picture of the run. Where there is none, size is the panel's.
func (s *shelf) onShelf(path string, size image.Point) screen {
	pic, why := s.get(path)
	if pic == nil {
		return screen{Missing: why, Box: image.Rectangle{Max: size}}
	}
	return screen{Pic: pic.ID, Box: image.Rect(0, 0, pic.W, pic.H)}
}

func masksOf(l record.Look, panel image.Rectangle) []image.Rectangle {
	var out []image.Rectangle
	for _, m := range l.Ignored {
		if r := clip(m.X, m.Y, m.W, m.H, panel); !r.Empty() {
			out = append(out, r)
		}
	}
	return out
}

func ringsOnly(res *compare.Result, panel image.Rectangle) []ring {
	if res == nil {
		return nil
	}
	rings, _ := ringsAndNotes(*res, panel, 1)
	for i := range rings {
		rings[i].N = 0
	}
	return rings
}

// lettered gives each input with points a letter, and the marks to draw on the frame before it.
func lettered(path []record.Input, panel image.Rectangle) (letters []string, touches []touch) {
	letters = make([]string, len(path))
	n := 0
	for i, in := range path {
		if len(in.Points) == 0 {
			continue
		}
		letters[i] = letter(n)
		n++
		t := touch{Letter: letters[i]}
		for j, p := range in.Points {
			at := clampTo(p, panel)
			if j == 0 {
				t.At = at
			} else {
				t.Path = append(t.Path, at)
			}
		}
		touches = append(touches, t)
	}
	return letters, touches
}

func letter(n int) string {
	if n < 26 {
		return string(rune('a' + n))
	}
	return strconv.Itoa(n + 1)
}

func clampTo(p [2]int, r image.Rectangle) image.Point {
	return image.Pt(min(max(p[0], r.Min.X), max(r.Max.X-1, r.Min.X)), min(max(p[1], r.Min.Y), max(r.Max.Y-1, r.Min.Y)))
}

// detailBox is what is enlarged of a region: some of what stands around it tells where it is.
func detailBox(region, panel image.Rectangle) image.Rectangle {
	r := region.Inset(-6)
	if d := 24 - r.Dx(); d > 0 {
		r.Min.X, r.Max.X = r.Min.X-d/2, r.Max.X+d-d/2
	}
	if d := 16 - r.Dy(); d > 0 {
		r.Min.Y, r.Max.Y = r.Min.Y-d/2, r.Max.Y+d-d/2
	}
	// At the panel's edge move it inwards, as a sliver shows nothing.
	into := func(low, high, from, to int) int { return max(from-low, 0) + min(to-high, 0) }
	r = r.Add(image.Pt(into(r.Min.X, r.Max.X, panel.Min.X, panel.Max.X), into(r.Min.Y, r.Max.Y, panel.Min.Y, panel.Max.Y)))
	return r.Intersect(panel)
}

// End is where a drag ended, nil for a tap.
func (t touch) End() *image.Point {
	if len(t.Path) == 0 {
		return nil
	}
	return &t.Path[len(t.Path)-1]
}
