package compare

import (
	"image"
	"image/color"
	"math/rand/v2"
	"testing"

	"github.com/fascia-bench/fascia/compare/internal/pairs"
)

// TestVerdicts asks for the verdict on pairs that differ in one pixel by one level, or not
// at all, in all kinds of picture, with masks that end at the pixel.
func TestVerdicts(t *testing.T) {
	n := 10_000
	if long {
		n = 100_000
	}
	s := newSource(t, seed, pairs.Judged)
	changed, hidden := 0, 0
	for i := range n {
		p := s.Small()
		r := Compare(p.Golden, p.Capture, Options{Ignore: p.Ignore})
		want := !p.Changed || p.Hidden
		if r.Same != want || r.Same != (r.Changed == 0) {
			t.Fatalf("pair %d, kind %d, %v: same %v, %d px; want same %v (change at %v, ignored %v)",
				i, p.Kind, p.Golden.Bounds(), r.Same, r.Changed, want, p.At, p.Ignore)
		}
		if p.Changed {
			changed++
		}
		if p.Hidden {
			hidden++
		}
		if !r.Same && (len(r.Regions) != 1 || r.Regions[0].Rect() != (image.Rectangle{Min: p.At, Max: p.At.Add(image.Pt(1, 1))})) {
			t.Fatalf("pair %d: regions %+v, want the pixel at %v", i, r.Regions, p.At)
		}
	}
	t.Logf("%d pairs, seed %d: %d changed, of these %d under a mask; no miss, no false alarm", n, seed, changed, hidden)
}

// TestToleranceEdges puts differences right at and right below each tolerance.
func TestToleranceEdges(t *testing.T) {
	golden := screen(figure(orange, 20, 20))
	near := color.RGBA{16, 24, 41, 255}
	diff := ColourDifference(LabOf(dark), LabOf(near))
	dots := func(n int) func(*image.RGBA) { return fill(white, 60, 40, n, 1) }
	soft := func(m *image.RGBA) { // the corner of the figure, halfway to its ground
		m.SetRGBA(20, 20, color.RGBA{135, 77, 16, 255})
	}
	area := image.Rect(55, 35, 75, 55)
	tests := []struct {
		name string
		draw func(*image.RGBA)
		tol  Tolerance
		same bool
	}{
		{"colour just below", fill(near, 60, 40, 3, 3), Tolerance{ColourBelow: diff + 1e-9}, true},
		{"colour just at", fill(near, 60, 40, 3, 3), Tolerance{ColourBelow: diff}, false},
		{"colour, in its area", fill(near, 60, 40, 3, 3), Tolerance{ColourBelow: 99, Area: area}, true},
		{"colour, one pixel off its area", fill(near, 54, 40, 3, 3), Tolerance{ColourBelow: 99, Area: area}, false},
		{"one pixel less", dots(7), Tolerance{SmallerThan: 8}, true},
		{"just as many pixels", dots(8), Tolerance{SmallerThan: 8}, false},
		{"small, reaching out of its area", fill(white, 54, 40, 2, 1), Tolerance{SmallerThan: 8, Area: area}, false},
		{"edges", soft, Tolerance{EdgesOnly: true}, true},
		{"no edge", dots(7), Tolerance{EdgesOnly: true}, false},
		{"no tolerance", dots(1), Tolerance{}, false},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tt.tol.Reason = "it is said why"
			r := Compare(golden, screen(figure(orange, 20, 20), tt.draw), Options{Tolerances: []Tolerance{tt.tol}})
			if r.Same != tt.same {
				t.Fatalf("same %v, want %v: %+v", r.Same, tt.same, r)
			}
			if tt.same && (len(r.Relaxed) != 1 || r.Relaxed[0].Reason != tt.tol.Reason || r.Relaxed[0].Pixels == 0 || *r.SSIM == 1) {
				t.Errorf("relaxed %+v, SSIM %v: the use of a tolerance must be told, and SSIM knows of none", r.Relaxed, *r.SSIM)
			}
			if tt.name == "no tolerance" && r.Relaxed != nil {
				t.Errorf("relaxed %+v without a tolerance", r.Relaxed)
			}
		})
	}
}

func TestLargeMaskIsWarnedOf(t *testing.T) {
	golden := screen()
	half := Options{Ignore: []image.Rectangle{image.Rect(0, 0, 80, 30)}}
	if r := Compare(golden, golden, half); r.Warnings != nil {
		t.Errorf("half the panel: %v", r.Warnings)
	}
	half.Ignore = append(half.Ignore, image.Rect(5, 30, 6, 31))
	if r := Compare(golden, golden, half); len(r.Warnings) != 1 {
		t.Errorf("more than half the panel: warnings %v, want one", r.Warnings)
	}
}

// TestRegionsAgainstWalk holds the regions of random pictures against the generator's own
// reading of the rule.
func TestRegionsAgainstWalk(t *testing.T) {
	rng := rand.New(rand.NewPCG(seed, 1))
	for i := range 400 {
		w, h := 1+rng.IntN(60), 1+rng.IntN(40)
		a, b := image.NewRGBA(image.Rect(0, 0, w, h)), image.NewRGBA(image.Rect(0, 0, w, h))
		for range rng.IntN(1 + w*h/(1+rng.IntN(80))) {
			b.SetRGBA(rng.IntN(w), rng.IntN(h), white)
		}
		want := pairs.TrueRegions(a, b)
		got := Compare(a, b, Options{}).Regions
		if len(got) != len(want) {
			t.Fatalf("picture %d: %d regions, want %d", i, len(got), len(want))
		}
		for k, r := range got {
			if r.Rect() != want[k] {
				t.Fatalf("picture %d: region %d is %v, want %v", i, k, r.Rect(), want[k])
			}
		}
	}
}

func FuzzCompare(f *testing.F) {
	f.Add([]byte("a few bytes of a picture and of another"), uint8(5), uint8(4), uint8(5), uint8(4))
	f.Add([]byte{0, 255, 3, 9}, uint8(12), uint8(13), uint8(12), uint8(13))
	f.Add([]byte{1}, uint8(0), uint8(3), uint8(3), uint8(0))
	f.Fuzz(func(t *testing.T, px []byte, gw, gh, cw, ch uint8) {
		take := func(w, h int, skip int) *image.NRGBA {
			m := image.NewNRGBA(image.Rect(-1, 2, w-1, h+2))
			for i := range m.Pix {
				if len(px) > 0 {
					m.Pix[i] = px[(i*skip+i/7)%len(px)]
				}
			}
			return m
		}
		g, c := take(int(gw)%48, int(gh)%48, 1), take(int(cw)%48, int(ch)%48, 3)
		opt := Options{Previous: take(int(cw)%48, int(ch)%48, 2)}
		if gw&64 != 0 {
			opt.Ignore = []image.Rectangle{image.Rect(int(gw)%9-3, int(gh)%9-3, int(cw)%50, int(ch)%50)}
			opt.Tolerances = []Tolerance{{ColourBelow: float64(gh % 9)}, {SmallerThan: int(ch % 20)}, {EdgesOnly: cw&1 == 0}}
		}
		r := Compare(g, c, opt)
		if r.Same == (len(r.Causes) > 0) {
			t.Errorf("same %v with %d causes", r.Same, len(r.Causes))
		}
		if r.Same && (len(r.Regions) > 0 || r.Changed > 0) {
			t.Errorf("same with %d regions and %d changed px", len(r.Regions), r.Changed)
		}
		for _, c := range r.Causes {
			if c.Confidence <= 0 || c.Confidence > 1 || c.Says == "" || c.Detail == nil {
				t.Errorf("cause %+v", c)
			}
		}
		if len(opt.Tolerances) == 0 {
			if self := Compare(c, c, opt); !self.Same {
				t.Error("a picture differs from itself")
			}
		}
		Flushed(g, c, image.Rect(int(gw)%40, int(gh)%40, int(cw)%60, int(ch)%60))
		Map(g, c)
		SSIMChannels(g, c)
	})
}
