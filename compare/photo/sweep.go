package photo

import (
	"fmt"
	"image"
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// A Step is one point of a sweep: the control's position and the panel's mean light there, as a share of a
// white panel when the bench was aligned.
type Step struct{ At, Light float64 }

// Luminance measures the panel's mean light in a photo, with the weights of BT.709 for red, green and blue.
func (o *Optics) Luminance(photo image.Image) (float64, error) {
	o.prepare()
	if s := photo.Bounds().Size(); s.X != o.Geometry.Photo[0] || s.Y != o.Geometry.Photo[1] {
		return 0, noCapture("it is %dx%d, but the bench was aligned with photos of %dx%d", s.X, s.Y, o.Geometry.Photo[0], o.Geometry.Photo[1])
	}
	var p rectify.Planes
	if !o.sampler.Sample(rectify.NewPhoto(photo), rectify.Point{}, &p) {
		return 0, noCapture("part of the panel lies off the photo")
	}
	if share := float64(p.Clipped) / float64(len(p.Light[0])); share > 0.05 {
		return 0, noCapture("%.0f %% of the panel is at full scale: expose less for a sweep", 100*share)
	}
	var sum float64
	for c, weight := range [3]float64{0.2126, 0.7152, 0.0722} {
		for k, v := range p.Light[c] {
			sum += weight * float64((v-o.Dark[c][k])/o.Flat[c][k])
		}
	}
	return sum / float64(len(p.Light[0])), nil
}

// Limits are what a sweep must keep to. Zero values ask for nothing.
type Limits struct {
	Rises     bool       // each step is no darker than the one before, but for Slack
	Slack     float64    // as a share of the highest light; 0: 0.01
	First     [2]float64 // least and most light at the first step
	Last      [2]float64
	Golden    []Step  // the curve that was approved
	Tolerance float64 // how far off it may be, as a share of the golden's highest; 0: 0.05
}

// CheckSweep holds a sweep against limits and returns what it misses, in words; nothing is missed by a good one.
func CheckSweep(s []Step, l Limits) (missed []string) {
	if len(s) < 2 {
		return []string{fmt.Sprintf("a sweep of %d steps: it takes two at least", len(s))}
	}
	if l.Slack == 0 {
		l.Slack = 0.01
	}
	if l.Tolerance == 0 {
		l.Tolerance = 0.05
	}
	top := 0.0
	for _, p := range s {
		top = max(top, p.Light)
	}
	if l.Rises {
		for i := 1; i < len(s); i++ {
			if s[i].Light < s[i-1].Light-l.Slack*top {
				missed = append(missed, fmt.Sprintf("light falls from %.3f at %g to %.3f at %g", s[i-1].Light, s[i-1].At, s[i].Light, s[i].At))
			}
		}
	}
	for _, end := range []struct {
		name string
		p    Step
		lim  [2]float64
	}{{"first", s[0], l.First}, {"last", s[len(s)-1], l.Last}} {
		if end.lim != ([2]float64{}) && (end.p.Light < end.lim[0] || end.p.Light > end.lim[1]) {
			missed = append(missed, fmt.Sprintf("the %s step gives %.3f, not %.3f to %.3f", end.name, end.p.Light, end.lim[0], end.lim[1]))
		}
	}
	if l.Golden != nil {
		high := 0.0
		for _, p := range l.Golden {
			high = max(high, p.Light)
		}
		for _, p := range s {
			want, ok := between(l.Golden, p.At)
			if !ok {
				missed = append(missed, fmt.Sprintf("the golden curve has nothing at %g", p.At))
			} else if math.Abs(p.Light-want) > l.Tolerance*high {
				missed = append(missed, fmt.Sprintf("at %g the light is %.3f, the golden curve has %.3f", p.At, p.Light, want))
			}
		}
	}
	return missed
}

// between interpolates a curve.
func between(s []Step, at float64) (float64, bool) {
	for i := 1; i < len(s); i++ {
		a, b := s[i-1], s[i]
		if at >= min(a.At, b.At) && at <= max(a.At, b.At) && a.At != b.At {
			return a.Light + (b.Light-a.Light)*(at-a.At)/(b.At-a.At), true
		}
	}
	return 0, false
}
