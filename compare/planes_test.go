package compare

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"
)

// A picture made smaller keeps its mean.
func TestSmallerPicturesKeepTheMean(t *testing.T) {
	m := load(bigScreen())
	sum := 0.0
	for _, c := range m.px {
		sum += float64(luma(c))
	}
	want := sum / float64(len(m.px))
	for name, p := range map[string]plane{"shrunk by 4": shrunk(m, 4), "sampled at 40": sampled(m, 40), "sampled at 20": sampled(m, 20)} {
		sum := 0.0
		for _, v := range p.v {
			sum += v
		}
		if got := sum / float64(len(p.v)); got < want-1e-9 || got > want+1e-9 {
			t.Errorf("%s: mean %v, want %v", name, got, want)
		}
	}
}

// Between pixels an even slope goes on evenly; beyond the rim's outer half there is nothing.
func TestBetweenPixels(t *testing.T) {
	p := plane{w: 7, h: 5}
	for y := range p.h {
		for x := range p.w {
			p.v = append(p.v, float64(3*x+5*y))
		}
	}
	for y := -0.75; y <= 5; y += 0.25 {
		for x := -0.75; x <= 7; x += 0.25 {
			v, ok := p.at(x, y)
			want := 3*math.Max(0, math.Min(6, x)) + 5*math.Max(0, math.Min(4, y))
			if on := x >= -0.5 && x <= 6.5 && y >= -0.5 && y <= 4.5; ok != on || on && math.Abs(v-want) > epsilon {
				t.Errorf("at %v, %v: %v, %v; want %v, %v", x, y, v, ok, want, on)
			}
		}
	}
}

// A picture is wholly like itself, the reverse of its negative, at no scale like an even one, and likest at the scale it was drawn at.
func TestLikeness(t *testing.T) {
	drawn := func(scale, cx, cy float64) plane {
		p := plane{w: 40, h: 30}
		for y := range p.h {
			for x := range p.w {
				u, v := (float64(x)+0.5-cx*40)/scale+cx*40, (float64(y)+0.5-cy*30)/scale+cy*30
				p.v = append(p.v, 120+60*math.Sin(u/3)*math.Cos(v/4)+20*math.Sin(u/7+v/5))
			}
		}
		return p
	}
	a := drawn(1, 0, 0)
	negative, even := plane{w: 40, h: 30}, plane{w: 40, h: 30}
	for _, v := range a.v {
		negative.v, even.v = append(negative.v, 255-v), append(even.v, 99)
	}
	for name, tt := range map[string]struct {
		b    plane
		want float64
	}{"itself": {a, 1}, "its negative": {negative, -1}, "an even one": {even, 0}} {
		if r, covered := likeness(a, tt.b, 1, 1, 0, 0); math.Abs(r-tt.want) > epsilon || covered != 1 {
			t.Errorf("%s: %v of %v, want %v of 1", name, r, covered, tt.want)
		}
	}
	for _, c := range []float64{0, 0.5} {
		for _, s := range []float64{0.6, 0.8, 1.25, 1.6} {
			b := drawn(s, c, c)
			at, covered := likeness(a, b, s, s, c, c)
			if want := math.Min(1, s*s); at < 0.99 || math.Abs(covered-want) > 0.04 {
				t.Errorf("drawn at %v about %v: likeness %v of %v, want 1 of %v", s, c, at, covered, want)
			}
			for _, other := range []float64{0.9, 1.1} {
				if r, _ := likeness(a, b, s*other, s*other, c, c); r > at-0.02 {
					t.Errorf("drawn at %v about %v: likeness %v, and %v at %v of that", s, c, at, r, other)
				}
			}
		}
	}
}

// A plane through points of a plane is that plane, also where the points stand in one row or column, or are one.
func TestFitPlane(t *testing.T) {
	r := rand.New(rand.NewPCG(seed, 5))
	for name, spread := range map[string]image.Point{"all over": {30, 20}, "a row": {30, 0}, "a column": {0, 20}, "one place": {0, 0}} {
		var at []image.Point
		for range 40 {
			at = append(at, image.Pt(5+r.IntN(spread.X+1), 9+r.IntN(spread.Y+1)))
		}
		f := func(q image.Point) float64 { return 7 + 2*float64(q.X) - 3*float64(q.Y) }
		p := fitPlane(at, f)
		for _, q := range at {
			if got := p[0] + p[1]*float64(q.X) + p[2]*float64(q.Y); math.Abs(got-f(q)) > 1e-6 {
				t.Fatalf("%s: %v at %v, want %v", name, got, q, f(q))
			}
		}
	}
}

// Softening keeps an even field even up to its rim, and spreads a point over its neighbours.
func TestSoften(t *testing.T) {
	even, point := make([]float64, 20), make([]float64, 20)
	for i := range even {
		even[i] = 2
	}
	point[1*5+2] = 9
	for i, v := range soften(even, 5, 4) {
		if math.Abs(v-2) > epsilon {
			t.Errorf("field %d of an even one: %v", i, v)
		}
	}
	for i, v := range soften(point, 5, 4) {
		x, y, want := i%5, i/5, 0.0
		if x >= 1 && x <= 3 && y <= 2 {
			want = 1
			if y == 0 {
				want = 1.5 // of six
			}
		}
		if math.Abs(v-want) > epsilon {
			t.Errorf("%d, %d of a point: %v, want %v", x, y, v, want)
		}
	}
}
