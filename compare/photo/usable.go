package photo

import (
	"errors"
	"fmt"
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// NoCapture says why a photo can't be judged. It is an error, not a difference.
type NoCapture struct{ Why string }

func (e *NoCapture) Error() string { return "no verdict on the photo: " + e.Why }

func noCapture(format string, args ...any) error { return &NoCapture{fmt.Sprintf(format, args...)} }

// IsNoCapture reports whether an error says that a photo can't be judged.
func IsNoCapture(err error) bool { var e *NoCapture; return errors.As(err, &e) }

func errDark() error {
	return noCapture("it is dark where the panel should be: the panel or its backlight is off, or the lens is covered")
}

// errMoved is for a panel that elsewhere has found.
func errMoved(d float64) error {
	if math.IsInf(d, 1) {
		return noCapture("the panel is not where the bench was aligned: the camera moved, or this is another camera's bench.yaml; run fascia bench align")
	}
	return noCapture("the camera moved by about %.0f photo px; run fascia bench align", d)
}

// dark reports whether hardly any light came from the panel.
func (o *Optics) dark(v *sight) bool {
	var lit float64
	for _, l := range v.seen.Light[1] {
		lit += float64(l) / float64(len(v.seen.Light[1]))
	}
	var want float64
	for _, l := range v.want[1] {
		want += float64(l) / float64(max(1, len(v.want[1])))
	}
	return lit < 0.1*want
}

// usable refuses photos that were taken under other conditions than the bench knows.
func (o *Optics) usable(p *rectify.Photo, s *screen, v *sight, opt Options) error {
	if o.dark(v) {
		return errDark()
	}
	if share := float64(v.seen.Clipped) / float64(s.w*s.h); share > 0.2 && meanOf(v.seen.Light[1]) > 1.3*meanOf(v.want[1]) {
		return noCapture("%.0f %% of the panel is at full scale: the exposure is not the one the bench was aligned with", 100*share)
	}
	if d := o.pivot.farthest(v.Move, o.leans); d > opt.Moved {
		// A photo that is far off is registered to the first place that fits a little.
		if far, moved := o.elsewhere(p, s, v); moved {
			return errMoved(far)
		}
		q, u := o.upright(p, s, v, false)
		return noCapture("the camera moved by %.1f photo px, more than the %.1f that can be made good; run fascia bench align", o.pivot.farthest(u.Move, q.leans), opt.Moved)
	}
	for c, g := range v.Gain {
		if o.repeats { // two noisy photos have a gain that is too small, on dark screens by much; their means have not
			g = meanOf(v.seen.Light[c]) / max(meanOf(v.want[c]), 1e-9)
		}
		if lim := 1 + max(0.25, 6*o.Drift[c]); g > lim || g < 1/lim {
			if o.agreement(v) > 0.8 {
				return noCapture("it is %.0f %% as bright as when the bench was aligned (channel %s): the exposure or the backlight is not the same", 100*g, [3]string{"red", "green", "blue"}[c])
			}
		}
	}
	return nil
}

func meanOf(v []float32) float64 {
	var s float64
	for _, x := range v {
		s += float64(x)
	}
	return s / float64(max(1, len(v)))
}

// agreement is the correlation of what is seen with what was predicted, in green.
func (o *Optics) agreement(v *sight) float64 {
	var c correlation
	for k, q := range v.want[1] {
		c.add(float64(v.seen.Light[1][k]), float64(q))
	}
	return c.value()
}
