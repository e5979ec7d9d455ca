// Package simcam is a camera on a rig that photographs a panel, in arithmetic alone.
//
// It follows the light: a panel whose pixels are three stripes each, a backlight that is
// uneven and may be dimmed by pulses, a pane that reflects, a pinhole with a Brown-Conrady
// lens, blur, a sensor under a Bayer mosaic with shot and read noise, a rolling shutter, and
// the camera's own white balance and sRGB curve. Between photos the rig moves a little and
// exposure and white balance drift.
//
// It is there to test alignment and comparison of photos, so it shares no code with them.
// Panel and photo coordinates put pixel centres on whole numbers. A simulator is no proof:
// what it leaves out is listed in capture/camera/README.md.
package simcam

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// Difficulty names a set of conditions.
type Difficulty int

// The three difficulties; Conditions gives their numbers.
const (
	Good Difficulty = iota
	Fair
	Poor
)

func (d Difficulty) String() string { return [...]string{"good", "fair", "poor"}[d] }

// Difficulties are all of them, the easiest first.
var Difficulties = []Difficulty{Good, Fair, Poor}

// Conditions say how well a rig is built. Light is in units of the full well, so that 1
// saturates; lengths are photo pixels.
type Conditions struct {
	Blur      float64 // standard deviation of the lens's blur
	Read      float64 // standard deviation of read noise
	Shot      float64 // variance of shot noise per unit of light
	White     float64 // light of a white panel in the green channel
	Ambient   float64 // light from everywhere else, over all of the photo
	Glare     float64 // peak of a still reflection on the pane
	Black     float64 // light of a black panel, as a share of white (leak)
	Uneven    float64 // the backlight falls by this share from its brightest place to its dimmest
	Vignette  float64 // the lens loses this share in the photo's corners
	Ripple    float64 // amplitude of bands from pulsed backlight, as a share of white
	Period    float64 // rows between bands
	Exposure  float64 // standard deviation of exposure from photo to photo, as a share
	Balance   float64 // the same of the gains of red and blue against green
	Move      float64 // the rig moves by at most this in x and in y between photos
	Crosstalk float64 // share of each panel primary that reaches the neighbouring channels
}

// Conditions returns the numbers of a difficulty.
func (d Difficulty) Conditions() Conditions {
	switch d {
	case Good:
		return Conditions{Blur: 0.55, Read: 0.002, Shot: 0.00008, White: 0.55, Ambient: 0.002, Glare: 0.01,
			Black: 0.002, Uneven: 0.1, Vignette: 0.12, Ripple: 0, Period: 90, Exposure: 0.005, Balance: 0.003, Move: 0.25, Crosstalk: 0.06}
	case Fair:
		return Conditions{Blur: 0.7, Read: 0.004, Shot: 0.0002, White: 0.55, Ambient: 0.005, Glare: 0.03,
			Black: 0.004, Uneven: 0.2, Vignette: 0.2, Ripple: 0.006, Period: 90, Exposure: 0.015, Balance: 0.008, Move: 0.5, Crosstalk: 0.1}
	}
	return Conditions{Blur: 1, Read: 0.008, Shot: 0.0006, White: 0.5, Ambient: 0.015, Glare: 0.08,
		Black: 0.008, Uneven: 0.3, Vignette: 0.3, Ripple: 0.02, Period: 70, Exposure: 0.03, Balance: 0.015, Move: 0.5, Crosstalk: 0.14}
}

// A Rig is a panel of Width x Height before a camera of PhotoWidth x PhotoHeight.
type Rig struct {
	Width, Height           int
	PhotoWidth, PhotoHeight int
	Tilt, TiltTo            float64 // radians off the normal, and towards where in the panel's plane
	Roll                    float64 // radians; a quarter turn more for each of Turns
	Turns                   int     // quarter turns clockwise that the camera is mounted by
	Fill                    float64 // the larger share of the photo's width or height that the panel takes
	OffX, OffY              float64 // of the panel's centre from the photo's, in photo pixels
	Focal                   float64 // photo pixels
	K1, K2, P1, P2          float64 // Brown-Conrady, on coordinates divided by Focal
	BGR                     bool    // stripes stand in the order blue, green, red
	Gap                     float64 // share of a stripe's width and of a pixel's height that is lost between them
	Gamma                   float64 // of the panel
	Conditions
}

// Random draws a rig: tilt to 25 degrees, roll to 8, k1 from -0.15 to 0.1, fill 0.4 to 0.75.
func Random(seed uint64, d Difficulty, width, height int) Rig {
	r := rand.New(rand.NewPCG(seed, 0xfa5c1a))
	in := func(lo, hi float64) float64 { return lo + (hi-lo)*r.Float64() }
	return Rig{
		Width: width, Height: height, PhotoWidth: 1920, PhotoHeight: 1080,
		Tilt: in(0, 25) * math.Pi / 180, TiltTo: in(0, 2*math.Pi), Roll: in(-8, 8) * math.Pi / 180,
		Turns: r.IntN(2) * 2, Fill: in(0.4, 0.75), OffX: in(-60, 60), OffY: in(-40, 40), Focal: 1500,
		K1: in(-0.15, 0.1), K2: in(-0.01, 0.02), P1: in(-0.001, 0.001), P2: in(-0.001, 0.001),
		BGR: r.IntN(4) == 0, Gap: in(0.1, 0.25), Gamma: in(1.9, 2.4), Conditions: d.Conditions(),
	}
}

func (r Rig) String() string {
	return fmt.Sprintf("tilt %.1f roll %.1f turns %d fill %.2f k1 %+.3f", r.Tilt*180/math.Pi, r.Roll*180/math.Pi, r.Turns, r.Fill, r.K1)
}

// pose holds the pinhole's view of the panel's plane: a point (x, y) of the panel is seen at
// (a0x+a1y+a2, b0x+b1y+b2) / (c0x+c1y+c2), before the lens bends it, in units of the focal length.
type pose struct{ a, b, c [3]float64 }

func (r Rig) pose() pose {
	// The panel's centre lies at distance 1; s is the size of a panel pixel.
	sinT, cosT := math.Sincos(r.Tilt)
	sinD, cosD := math.Sincos(r.TiltTo)
	sinR, cosR := math.Sincos(r.Roll + float64(r.Turns)*math.Pi/2)
	build := func(s float64) pose {
		var p pose
		for i, e := range [2][2]float64{{1, 0}, {0, 1}} { // images of the panel's axes
			along := e[0]*cosD + e[1]*sinD
			across := -e[0]*sinD + e[1]*cosD
			x, y, z := along*cosT*cosD-across*sinD, along*cosT*sinD+across*cosD, along*sinT
			p.a[i], p.b[i], p.c[i] = s*(x*cosR-y*sinR), s*(x*sinR+y*cosR), s*z
		}
		mx, my := float64(r.Width-1)/2, float64(r.Height-1)/2
		p.c[2] = 1 - p.c[0]*mx - p.c[1]*my
		p.a[2] = -p.a[0]*mx - p.a[1]*my
		p.b[2] = -p.b[0]*mx - p.b[1]*my
		for i := range 3 { // a mount off the axis
			p.a[i] += r.OffX / r.Focal * p.c[i]
			p.b[i] += r.OffY / r.Focal * p.c[i]
		}
		return p
	}
	fill := func(s float64) float64 {
		p := build(s)
		lox, loy, hix, hiy := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
		for _, q := range [][2]float64{{-0.5, -0.5}, {float64(r.Width) - 0.5, -0.5}, {-0.5, float64(r.Height) - 0.5}, {float64(r.Width) - 0.5, float64(r.Height) - 0.5}} {
			x, y := p.see(q[0], q[1])
			lox, hix, loy, hiy = min(lox, x), max(hix, x), min(loy, y), max(hiy, y)
		}
		return max((hix-lox)*r.Focal/float64(r.PhotoWidth), (hiy-loy)*r.Focal/float64(r.PhotoHeight))
	}
	lo, hi := 1e-6, 4/float64(r.Width+r.Height)
	for range 60 {
		if mid := (lo + hi) / 2; fill(mid) < r.Fill {
			lo = mid
		} else {
			hi = mid
		}
	}
	return build(lo)
}

func (p pose) see(x, y float64) (float64, float64) {
	w := p.c[0]*x + p.c[1]*y + p.c[2]
	return (p.a[0]*x + p.a[1]*y + p.a[2]) / w, (p.b[0]*x + p.b[1]*y + p.b[2]) / w
}

// back is the inverse of see.
func (p pose) back(u, v float64) (float64, float64) {
	a, b := p.a[0]-u*p.c[0], p.a[1]-u*p.c[1]
	c, d := p.b[0]-v*p.c[0], p.b[1]-v*p.c[1]
	e, f := u*p.c[2]-p.a[2], v*p.c[2]-p.b[2]
	det := a*d - b*c
	return (e*d - b*f) / det, (a*f - e*c) / det
}

// bend applies the lens: Brown 1966, Conrady 1919.
func (r Rig) bend(x, y float64) (float64, float64) {
	q := x*x + y*y
	k := 1 + q*(r.K1+q*r.K2)
	return x*k + 2*r.P1*x*y + r.P2*(q+2*x*x), y*k + r.P1*(q+2*y*y) + 2*r.P2*x*y
}

// unbend inverts bend by repeated correction, which converges for the lenses drawn here.
func (r Rig) unbend(u, v float64) (float64, float64) {
	x, y := u, v
	for range 25 {
		bx, by := r.bend(x, y)
		x, y = x+(u-bx), y+(v-by)
	}
	return x, y
}
