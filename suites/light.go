package suites

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"math"
	"strings"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/compare/photo"
	"github.com/fascia-bench/fascia/suites/record"
)

// known finds lamps that neither the device tells nor the camera has a spot for.
func (l Lamp) known(s Step, c *bench.Camera, h link.Hello) error {
	for _, want := range l.Want {
		if !h.Has(link.CanList) && (c == nil || c.Lamps[want.name] == (bench.Spot{})) {
			return s.At.Errorf("this device does not tell its lamps, and the bench's camera has no lamp %q", want.name)
		}
	}
	return nil
}

// fits reports whether light of a colour is what a lamp is meant to show. A camera is no meter, so its colours are names.
func (w lampState) fits(lit bool, colour string) bool {
	switch w.want {
	case "on":
		return lit
	case "off":
		return !lit
	}
	if c, ok := hexColour(w.want); ok {
		return lit == (c != "") && c == colour
	}
	return lit && w.want == colour
}

func hexColour(text string) (name string, ok bool) {
	var v uint32
	if n, err := fmt.Sscanf(text, "#%06x", &v); n != 1 || err != nil {
		return "", false
	}
	return photo.ColourName(color.RGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 255}), true
}

// expectLamp asks the device for its lamps, and the camera for those it has a spot for.
func (d *driver) expectLamp(ctx context.Context, l Lamp, line int) error {
	now := map[string]string{}
	if d.dev.Hello().Has(link.CanList) {
		items, err := d.dev.List(ctx, link.Lamps)
		if err != nil {
			return err
		}
		for _, item := range items {
			now[item.Name] = item.Value
		}
	}
	var shot image.Image
	for _, want := range l.Want {
		is, told := now[want.name]
		var missed []string
		if told {
			name, _ := hexColour(is)
			if exact := strings.HasPrefix(want.want, "#"); exact && is != want.want || !exact && !want.fits(name != "", name) {
				missed = append(missed, "it is "+is)
			}
		}
		seen := false
		if d.eye != nil {
			var spot bench.Spot
			if spot, seen = d.eye.bench.Lamps[want.name]; seen {
				var err error
				if shot == nil {
					if shot, err = d.eye.photo(ctx); err != nil {
						return err
					}
				}
				st, err := d.eye.optics.Lamp(shot, photo.Lamp{X: spot.X, Y: spot.Y, Radius: spot.Radius}, [2]float64{})
				if err != nil {
					return err
				}
				if !want.fits(st.On, st.Colour) {
					missed = append(missed, "the photo shows it "+lampWords(st))
				}
			}
		}
		if !told && !seen {
			return fmt.Errorf("the device has no lamp %q, and the bench's camera neither", want.name)
		}
		result := record.Met
		if missed != nil {
			result = record.Missed
		}
		d.expect(fmt.Sprintf("lamp %s %s", want.name, want.want), line, result, strings.Join(missed, "; "))
	}
	return nil
}

func lampWords(st photo.LampState) string {
	if !st.On {
		return "off"
	}
	return st.Colour
}

// possible finds what a sweep needs of the device.
func (s Sweep) possible(step Step, h link.Hello, feeds, keys []link.Item) error {
	switch {
	case s.Feed != "" && !h.Has(link.CanFeed):
		return step.At.Errorf("this device cannot be fed over the link")
	case s.Feed != "":
		return Feed{[]Value{{Name: s.Feed, at: step.At}}}.known(feeds)
	case s.Turn != 0 && !h.Takes(link.Turn):
		return step.At.Errorf("this device takes no knob")
	case s.Turn == 0 && !(h.Takes(link.KeyDown) && h.Takes(link.KeyUp)):
		return step.At.Errorf("this device takes no keys")
	case s.Turn == 0:
		return s.Key.onDevice(keys)
	}
	return nil
}

// expectSweep moves a control from place to place and measures the panel's light at each: by the camera, or, on
// a bench without one, as the framebuffer has it, which knows of no backlight.
func (d *driver) expectSweep(ctx context.Context, s Sweep, line int) error {
	rec := record.Sweep{Name: s.Name, By: "framebuffer"}
	if d.eye != nil {
		rec.By = "camera"
	}
	var steps []photo.Step
	for i, at := range s.Over {
		if err := d.moveTo(ctx, s, i); err != nil {
			return err
		}
		if _, err := d.dev.Settle(ctx, s.Still.Still, s.Still.Latest); err != nil {
			return err
		}
		light, err := d.light(ctx)
		if err != nil {
			return fmt.Errorf("at %g: %w", at, err)
		}
		steps = append(steps, photo.Step{At: at, Light: light})
		rec.Points = append(rec.Points, [2]float64{at, math.Round(light*1e4) / 1e4})
	}
	for _, g := range s.Check.Golden {
		rec.Curve = append(rec.Curve, [2]float64{g.At, g.Light})
	}
	missed := photo.CheckSweep(steps, s.Check)
	result := record.Met
	if missed != nil {
		result = record.Missed
		missed = append(missed, "if that is meant, the curve is now "+curveText(rec.Points))
	}
	d.swept(rec)
	d.expect("sweep "+s.Name, line, result, strings.Join(missed, "\n"))
	return nil
}

// curveText is a curve as a walk writes it.
func curveText(points [][2]float64) string {
	var parts []string
	for _, p := range points {
		parts = append(parts, fmt.Sprintf("%g: %.3f", p[0], p[1]))
	}
	return "curve: {" + strings.Join(parts, ", ") + "}"
}

// moveTo moves a sweep's control to its i-th place.
func (d *driver) moveTo(ctx context.Context, s Sweep, i int) error {
	d.touched()
	switch {
	case s.Feed != "":
		return d.dev.Feed(ctx, s.Feed, s.texts[i])
	case i == 0:
		return nil // where it stands
	case s.Turn != 0:
		return d.inputs(ctx, events(Turn{By: s.Turn}))
	}
	return d.inputs(ctx, events(s.Key))
}

// light is the panel's mean light, as a share of a white panel's.
func (d *driver) light(ctx context.Context) (float64, error) {
	if d.eye != nil {
		shot, err := d.eye.photo(ctx)
		if err != nil {
			return 0, err
		}
		return d.eye.optics.Luminance(shot)
	}
	shot, err := d.dev.Look(ctx, link.LookOptions{})
	if err != nil {
		return 0, err
	}
	return meanLight(shot.Frame.RGBA()), nil
}

// meanLight is a picture's mean light by IEC 61966-2-1 (sRGB), with the weights of BT.709.
func meanLight(m *image.RGBA) float64 {
	var linear [256]float64
	for i := range linear {
		v := float64(i) / 255
		if linear[i] = v / 12.92; v > 0.04045 {
			linear[i] = math.Pow((v+0.055)/1.055, 2.4)
		}
	}
	var sum float64
	for i := 0; i+3 < len(m.Pix); i += 4 {
		sum += 0.2126*linear[m.Pix[i]] + 0.7152*linear[m.Pix[i+1]] + 0.0722*linear[m.Pix[i+2]]
	}
	return sum / float64(len(m.Pix)/4)
}
