package report

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"slices"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/suites/record"
)

// find returns where in m the picture p stands, each of its pixels as a block of k x k.
func find(m, p image.Image, k int) (at []image.Point) {
	b, s := m.Bounds(), p.Bounds()
	same := func(x, y int) bool {
		for j := range s.Dy() * k {
			for i := range s.Dx() * k {
				r1, g1, b1, _ := m.At(x+i, y+j).RGBA()
				r2, g2, b2, _ := p.At(s.Min.X+i/k, s.Min.Y+j/k).RGBA()
				if r1 != r2 || g1 != g2 || b1 != b2 {
					return false
				}
			}
		}
		return true
	}
	for y := b.Min.Y; y+s.Dy()*k <= b.Max.Y; y++ {
		for x := b.Min.X; x+s.Dx()*k <= b.Max.X; x++ {
			if same(x, y) {
				at = append(at, image.Pt(x, y))
			}
		}
	}
	return at
}

// Without regions both pictures stand there side by side, pixel by pixel, at a whole scale.
func TestDiffIsCrisp(t *testing.T) {
	// An odd origin is not visible.
	golden := image.NewNRGBA(image.Rect(-3, 5, 61, 53))
	draw.Draw(golden, golden.Rect, panelOf(64, 48, 0), image.Point{}, draw.Src)
	capture := panelOf(64, 48, 1)
	m := Diff(golden, capture, compare.Result{})
	const k = 6 // 64 px fit into 480 seven times; six is the most
	g, c := find(m, golden, k), find(m, capture, k)
	if len(g) != 1 || len(c) != 1 || g[0].Y != c[0].Y || c[0].X < g[0].X+64*k {
		t.Errorf("golden at %v, capture at %v; want one of each, side by side", g, c)
	}
}

func TestDiffMarks(t *testing.T) {
	golden, capture := panelOf(320, 240, 0), panelOf(320, 240, 0)
	draw.Draw(capture, image.Rect(200, 150, 230, 170), image.NewUniform(color.NRGBA{0xff, 0, 0xff, 0xff}), image.Point{}, draw.Src)
	res := compare.Compare(golden, capture, compare.Options{})
	if len(res.Regions) != 1 {
		t.Fatalf("%d regions", len(res.Regions))
	}
	plain, ringed := Diff(golden, capture, compare.Result{}), Diff(golden, capture, res)
	hatched := Diff(golden, capture, res, image.Rect(10, 100, 60, 140), image.Rect(-50, -50, -1, -1))
	at := find(plain, capture, 1)[0]
	count := func(a, b image.Image, r image.Rectangle) (n int) {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				if a.At(x, y) != b.At(x, y) {
					n++
				}
			}
		}
		return n
	}
	if n := count(plain, ringed, image.Rect(200, 150, 230, 170).Add(at)); n > 40 {
		t.Errorf("%d px of the region are covered; a ring goes round it, and its number may hide a corner", n)
	}
	if n := count(plain, ringed, image.Rect(190, 140, 240, 180).Add(at)); n < 300 {
		t.Errorf("%d px are drawn around the region", n)
	}
	if n := count(plain, ringed, image.Rect(0, 0, 180, 130).Add(at)); n != 0 {
		t.Errorf("%d px are drawn far from the region", n)
	}
	if n := count(ringed, hatched, image.Rect(10, 100, 60, 140).Add(at)); n < 50*40/2 {
		t.Errorf("%d px of the ignored area are hatched", n)
	}
}

func TestDiffOdd(t *testing.T) {
	p := panelOf(64, 48, 0)
	tests := []struct {
		name            string
		golden, capture image.Image
	}{
		{"no golden", nil, p}, {"no capture", p, nil}, {"neither", nil, nil}, {"empty", image.NewNRGBA(image.Rectangle{}), p},
		{"another size", p, panelOf(48, 64, 0)}, {"one px", image.NewGray(image.Rect(0, 0, 1, 1)), image.NewGray(image.Rect(0, 0, 1, 1))},
		{"wide", panelOf(3000, 20, 0), panelOf(3000, 20, 1)}, {"tall", panelOf(20, 3000, 0), panelOf(20, 3000, 1)},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			m := Diff(tt.golden, tt.capture, compare.Compare(tt.golden, tt.capture, compare.Options{}))
			if s := m.Bounds().Size(); s.X < 2*margin || s.X > 3000 || s.Y < 2*margin || s.Y > 12_000 {
				t.Errorf("size %v", s)
			}
		})
	}
}

func TestTrail(t *testing.T) {
	f := mixed(t)
	m, err := Trail(f.dir, f.run, "home")
	if err != nil {
		t.Fatal(err)
	}
	// The first frame has no ring; a drag begins and ends on it. The third has nothing on it at all.
	if got := find(m, panelOf(64, 48, 2), 3); len(got) != 1 {
		t.Errorf("the last look stands at %v; 64 px fit into %d px, at most three times enlarged", got, trailRoom)
	}
	if got := find(m, panelOf(64, 48, 0), 3); len(got) != 0 {
		t.Error("the drag is not drawn on the frame before it")
	}
	for _, walk := range []string{"nowhere", ""} {
		if _, err := Trail(f.dir, f.run, walk); err == nil || !strings.Contains(err.Error(), fmt.Sprintf("%q", walk)) {
			t.Errorf("walk %q: %v", walk, err)
		}
	}
	f.run.Walks = append(f.run.Walks, record.Walk{Walk: "empty"})
	if _, err := Trail(f.dir, f.run, "empty"); err == nil || !strings.Contains(err.Error(), "no look") {
		t.Errorf("a walk without looks: %v", err)
	}
	for range trailMost + 1 {
		f.run.Looks = append(f.run.Looks, record.Look{Walk: "empty", Verdict: record.NotReached})
	}
	if _, err := Trail(f.dir, f.run, "empty"); err == nil || !strings.Contains(err.Error(), "too many") {
		t.Errorf("a walk of %d looks: %v", trailMost+1, err)
	}
}

func TestRings(t *testing.T) {
	panel := image.Rect(0, 0, 320, 240)
	var res compare.Result
	for i := range 40 {
		res.Regions = append(res.Regions, compare.Region{X: i % 8 * 40, Y: i / 8 * 48, W: 5 + i, H: 5, Cause: "edges", Confidence: .9, Says: fmt.Sprintf("edges %d", i)})
	}
	small := &res.Regions[7]
	small.Cause, small.W, small.H, small.Says = "missing", 1, 1, "gone"
	rings, notes := ringsAndNotes(res, panel, 8)
	if len(rings) != 40 || len(notes) != 2 {
		t.Fatalf("%d rings, %d notes; want all 40 ringed and a note for each kind", len(rings), len(notes))
	}
	n := 0
	for i, r := range rings {
		if r.N == 0 {
			continue
		}
		if n++; r.N != n {
			t.Errorf("number %d stands at ring %d: numbers follow the order of reading", r.N, i)
		}
	}
	if n != maxNumbered {
		t.Errorf("%d numbers, want %d", n, maxNumbered)
	}
	if rings[7].N == 0 {
		t.Error("the one region of another kind has no number, small as it is")
	}
	if got := notes[0].Alike(); got != "Likewise 38 other regions, 28 of them without a number." {
		t.Error(got)
	}
	if notes[0].Cause.Says != "edges 39" {
		t.Errorf("the sentence is %q, want that of the largest region", notes[0].Cause.Says)
	}
	if got := notes[1].Numbers(); got != "1" {
		t.Errorf("the missing one has number %q", got)
	}
}

// What is wrong with the panel as a whole is said once and not of each region.
func TestRingsWhole(t *testing.T) {
	c := compare.Cause{Cause: "torn", Says: "Rows above 40 and from it on come from two pictures."}
	res := compare.Result{Causes: []compare.Cause{c}}
	for i := range 5 {
		res.Regions = append(res.Regions, compare.Region{X: 10 * i, Y: 50, W: 3, H: 3, Cause: c.Cause, Says: c.Says})
	}
	rings, notes := ringsAndNotes(res, image.Rect(0, 0, 64, 64), 8)
	if len(rings) != 5 || len(notes) != 1 || notes[0].Count != 5 || notes[0].Numbers() != "" || notes[0].Alike() != "" {
		t.Errorf("rings %+v, notes %+v", rings, notes)
	}
}

// In text the regions of a kind are one sentence, and what holds for the panel is said once.
func TestSentences(t *testing.T) {
	region := func(cause string, w int, says string) compare.Region {
		return compare.Region{W: w, H: 2, Cause: cause, Says: says}
	}
	res := compare.Result{
		Causes:  []compare.Cause{{Cause: "tone", Says: "Darker."}, {Cause: "edges", Says: "Edges at 1."}},
		Regions: []compare.Region{region("edges", 2, "Edges at 1."), region("missing", 3, "Gone."), region("edges", 5, "Edges at 2."), region("edges", 4, "Edges at 3.")},
	}
	want := []string{"Darker.", "Edges at 2. Likewise 2 other regions.", "Gone."}
	if got := Sentences(res); !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if got := Sentences(compare.Result{}); len(got) != 0 {
		t.Errorf("of no difference is said %q", got)
	}
}

func TestNumbers(t *testing.T) {
	for want, in := range map[string][]int{"": nil, "3": {3}, "1, 2": {1, 2}, "1–3": {1, 2, 3}, "1, 3–6, 9": {1, 3, 4, 5, 6, 9}} {
		var n note
		for _, i := range in {
			n.Rings = append(n.Rings, ring{N: i})
		}
		if got := n.Numbers(); got != want {
			t.Errorf("%v is written %q, want %q", in, got, want)
		}
	}
}

func TestWrap(t *testing.T) {
	f := theFaces().regular
	for _, s := range []string{"", "one", "tap 160,205 on the button", strings.Repeat("W", 500), "a\nb\x00c", strings.Repeat("word ", 300)} {
		lines := wrap(f, s, 100, 4)
		if len(lines) > 4 {
			t.Errorf("%.20q: %d lines", s, len(lines))
		}
		for _, l := range lines {
			if w := drawnWidth(l); w > 101 {
				t.Errorf("%.20q: line %q is %d px wide", s, l, w)
			}
		}
	}
	if got := wrap(f, "tap 160,205", 200, 4); len(got) != 1 || got[0] != "tap 160,205" {
		t.Errorf("%q", got)
	}
}

// drawnWidth draws a line and looks how far it reaches.
func drawnWidth(s string) int {
	c := newCanvas(8000, 30)
	c.text(theFaces().regular, 0, 20, s, ink)
	for x := 7999; x >= 0; x-- {
		for y := range 30 {
			if c.RGBAAt(x, y) != (color.RGBA{paper.R, paper.G, paper.B, 0xff}) {
				return x + 1
			}
		}
	}
	return 0
}
