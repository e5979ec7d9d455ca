package photo

import (
	"image"
	"image/color"
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// A Curve turns the photo's levels, 0 to 1, into light: ((v+Offset)/(1+Offset))^Gamma, and below where its tangent goes through
// no light at level 0, that tangent. This is the form of the standards: Gamma 2.4 and Offset 0.055 is sRGB (IEC 61966-2-1), 1/0.45 and 0.099
// that of video (ITU-R BT.709), 1 a raw camera. A power with a straight line added came within half a per cent of white of sRGB, and that
// is a tenth of what is seen of dark tones under a reflection.
type Curve struct{ Gamma, Offset float64 }

// Table gives the curve for 8-bit levels.
func (c Curve) Table() (t [256]float32) {
	power := func(v float64) float64 { return math.Pow((v+c.Offset)/(1+c.Offset), c.Gamma) }
	knee := 0.0
	if c.Gamma > 1 {
		knee = min(1, c.Offset/(c.Gamma-1))
	}
	for i := range t {
		v := float64(i) / 255
		if v < knee {
			t[i] = float32(power(knee) / knee * v)
		} else {
			t[i] = float32(power(v))
		}
	}
	return t
}

// A histogram counts the levels of one channel in one place.
type histogram [256]float64

func (h *histogram) mean(t *[256]float32) float64 {
	var s, n float64
	for i, v := range h {
		s, n = s+v*float64(t[i]), n+v
	}
	return s / max(n, 1)
}

// collect takes the levels that a photo has where a panel rectangle is seen, a margin left off.
func collect(g *rectify.Geometry, p *rectify.Photo, r image.Rectangle, ch int) *histogram {
	h := new(histogram)
	const steps = 24
	margin := 3.0
	for j := range steps {
		for i := range steps {
			x := float64(r.Min.X) - 0.5 + margin + (float64(r.Dx())-2*margin)*(float64(i)+0.5)/steps
			y := float64(r.Min.Y) - 0.5 + margin + (float64(r.Dy())-2*margin)*(float64(j)+0.5)/steps
			q := g.ToPhoto(rectify.Point{X: x, Y: y})
			u, v := int(q.X+0.5), int(q.Y+0.5)
			if u >= 0 && v >= 0 && u < p.Width && v < p.Height {
				h[p.Pix[v*p.Stride+4*u+ch]]++
			}
		}
	}
	return h
}

// learnCurve finds the camera's curve from half-tones: whatever the optics do to a chequered
// patch, its mean light is the stated share of white. This separates the camera's curve from the panel's, which
// plain greys can't. It returns the root mean square miss of the half-tones, as a share of white.
func learnCurve(g *rectify.Geometry, white, black *rectify.Photo, charts []*rectify.Photo) (Curve, float64) {
	type sample struct {
		at, white, black *histogram
		duty             float64
	}
	var halves []sample
	var whites [3][]sample
	all := tonePatches()
	for n, chart := range charts {
		cells, which := toneLayout(g.Panel[0], g.Panel[1], n+1)
		for i, r := range cells {
			p := all[which[i]]
			isWhite := p.duty == 0 && p.c == color.RGBA{255, 255, 255, 255}
			if p.duty == 0 && !isWhite {
				continue
			}
			for ch := range 3 {
				s := sample{collect(g, chart, r, ch), collect(g, white, r, ch), collect(g, black, r, ch), float64(p.duty) / 4}
				if isWhite {
					whites[ch] = append(whites[ch], s)
				} else if ch == 1 {
					halves = append(halves, s)
				}
			}
		}
	}
	miss := func(c Curve) float64 {
		t := c.Table()
		var up, down float64 // exposure of the charts against the white photo
		for _, s := range whites[1] {
			b := s.black.mean(&t)
			up, down = up+s.at.mean(&t)-b, down+s.white.mean(&t)-b
		}
		gain := up / max(down, 1e-9)
		var sum float64
		for _, s := range halves {
			b := s.black.mean(&t)
			d := (s.at.mean(&t)-b)/max(1e-9, gain*(s.white.mean(&t)-b)) - s.duty
			sum += d * d
		}
		return math.Sqrt(sum / float64(max(len(halves), 1)))
	}
	best, least := Curve{1, 0}, math.Inf(1)
	try := func(c Curve) {
		if m := miss(c); m < least && c.Gamma >= 0.5 && c.Gamma <= 4 && c.Offset >= 0 && c.Offset <= 0.3 && (c.Gamma > 1 || c.Offset == 0) {
			best, least = c, m
		}
	}
	for gamma := 0.6; gamma < 3.2; gamma += 0.1 {
		try(Curve{gamma, 0})
		try(Curve{gamma, 0.05})
	}
	for step := 0.05; step > 0.002; step /= 2 {
		for range 6 {
			b := best
			for _, d := range [][2]float64{{1, 0}, {-1, 0}, {0, 1}, {0, -1}, {1, 1}, {-1, -1}} {
				try(Curve{b.Gamma + d[0]*step, b.Offset + d[1]*step/2})
			}
		}
	}
	// Half-tones are no darker than a quarter of white and say little of how the curve begins. A standard that fits them about
	// as well as the best does is what the camera has.
	limit := 1.2*least + 0.0005
	for _, c := range []Curve{{2.4, 0.055}, {1 / 0.45, 0.099}, {1, 0}} {
		if m := miss(c); m < limit {
			best, least, limit = c, m, m
		}
	}
	return best, least
}

// Tone is the light of one of the panel's channels by its code, 0 to 1.
type Tone [256]float32

// toneOf interpolates measured steps; between them, and below the first, by a power.
func toneOf(steps []uint8, light []float64) (t Tone) {
	lx, ly := make([]float64, len(steps)), make([]float64, len(steps))
	for i := range steps {
		lx[i], ly[i] = math.Log(float64(steps[i])), math.Log(max(light[i], 1e-5))
		if i > 0 {
			ly[i] = max(ly[i], ly[i-1]) // a panel's tone rises
		}
	}
	top := len(steps) - 1
	for code := 1; code < 256; code++ {
		x := math.Log(float64(code))
		k := 0
		for k < top-1 && x > lx[k+1] {
			k++
		}
		slope := (ly[k+1] - ly[k]) / (lx[k+1] - lx[k])
		if k == 0 && x < lx[0] {
			slope = min(max(slope, 1), 4)
		}
		t[code] = float32(math.Exp(ly[k] + slope*(x-lx[k]) - ly[top]))
	}
	return t
}
