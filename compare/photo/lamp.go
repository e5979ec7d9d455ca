package photo

import (
	"fmt"
	"image"
	"image/color"
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// A Lamp is a light beside the panel: a key's lamp, a status light. X, Y and Radius are photo pixels, of a
// photo that stands where the bench was aligned.
type Lamp struct {
	X, Y, Radius float64
}

// A LampState is what a lamp was measured to do.
type LampState struct {
	On     bool
	Light  float64 // mean over its spot less that of the ring round it, as a share of the camera's full scale
	Colour string  // red, amber, yellow, green, cyan, blue, violet, white; empty when off
	RGB    color.RGBA
	// Clipped tells that the lamp's middle is at full scale, where colour is told from its rim alone.
	Clipped bool
}

// Lamp measures a lamp in a photo. The ring round the lamp gives the light that is there without it. move is
// the photo's movement, Result.Move of a look at the same time, or nothing.
func (o *Optics) Lamp(photo image.Image, l Lamp, move [2]float64) (LampState, error) {
	o.prepare()
	s := photo.Bounds().Size()
	x, y := l.X+move[0], l.Y+move[1]
	outer := 2*l.Radius + 3
	if !(l.Radius >= 1) || x-outer < 0 || y-outer < 0 || x+outer > float64(s.X-1) || y+outer > float64(s.Y-1) {
		return LampState{}, fmt.Errorf("the lamp at %g,%g with radius %g: it and the ring round it must lie on the photo of %dx%d", l.X, l.Y, l.Radius, s.X, s.Y)
	}
	p := rectify.NewPhoto(photo)
	curve := o.Curve.Table()
	var in, ring, rim [3]float64
	var nIn, nRing, nRim, clipped float64
	var square float64
	for v := int(y - outer); v <= int(y+outer); v++ {
		for u := int(x - outer); u <= int(x+outer); u++ {
			d := math.Hypot(float64(u)-x, float64(v)-y)
			q := p.Pix[v*p.Stride+4*u:]
			switch {
			case d <= l.Radius:
				top := false
				for c := range 3 {
					in[c] += float64(curve[q[c]])
					top = top || q[c] >= 254
				}
				nIn++
				if top {
					clipped++
				} else {
					for c := range 3 {
						rim[c] += float64(curve[q[c]])
					}
					nRim++
				}
			case d >= l.Radius+2 && d <= outer:
				for c := range 3 {
					ring[c] += float64(curve[q[c]])
				}
				square += float64(curve[q[1]]) * float64(curve[q[1]])
				nRing++
			}
		}
	}
	var out LampState
	var rgb [3]float64
	for c := range 3 {
		ring[c] /= nRing
		out.Light += (in[c]/nIn - ring[c]) / 3
		rgb[c] = max(0, in[c]/nIn-ring[c])
		if nRim > 0.2*nIn && clipped > 0 {
			rgb[c] = max(0, rim[c]/nRim-ring[c])
		}
	}
	out.Clipped = clipped > nIn/10
	noise := math.Sqrt(max(0, square/nRing-ring[1]*ring[1])) / math.Sqrt(nIn)
	out.On = out.Light > max(0.02, 6*noise)
	if out.On {
		top := max(rgb[0], rgb[1], rgb[2])
		out.RGB = color.RGBA{uint8(255 * rgb[0] / top), uint8(255 * rgb[1] / top), uint8(255 * rgb[2] / top), 255}
		out.Colour = colourName(rgb[0]/top, rgb[1]/top, rgb[2]/top)
	}
	return out, nil
}

// Colours are the names that lamps' colours have.
var Colours = []string{"red", "amber", "yellow", "green", "cyan", "blue", "violet", "white"}

// ColourName names the colour of light, one of Colours; black has none.
func ColourName(c color.RGBA) string {
	top := float64(max(c.R, c.G, c.B))
	if top == 0 {
		return ""
	}
	return colourName(float64(c.R)/top, float64(c.G)/top, float64(c.B)/top)
}

// colourName names light by its hue; a web camera is no meter, so the names are few.
func colourName(r, g, b float64) string {
	hi, lo := max(r, g, b), min(r, g, b)
	if lo > 0.55*hi {
		return "white"
	}
	var hue float64
	switch hi {
	case r:
		hue = 60 * (g - b) / (hi - lo)
	case g:
		hue = 120 + 60*(b-r)/(hi-lo)
	default:
		hue = 240 + 60*(r-g)/(hi-lo)
	}
	// Bounds are common practice, without source. Amber is set apart since lamps are.
	for _, n := range []struct {
		to   float64
		name string
	}{{12, "red"}, {40, "amber"}, {75, "yellow"}, {165, "green"}, {200, "cyan"}, {260, "blue"}, {335, "violet"}} {
		if hue < n.to {
			if hue < -25 {
				return "violet"
			}
			return n.name
		}
	}
	return "red"
}
