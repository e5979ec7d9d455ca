package photo

import (
	"errors"
	"fmt"
	"image"
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
	"github.com/fascia-bench/fascia/compare"
)

// Options of a comparison.
type Options struct {
	// FalseAlarm is the chance that an unchanged look is said to differ, over the whole panel;
	// 0 means one in 10,000.
	FalseAlarm float64
	// Ignore lists rectangles in panel coordinates that do not count.
	Ignore []image.Rectangle
	// Moved is by how many photo pixels the rig may stand elsewhere than when it was aligned; 0 means 2.5.
	Moved float64
	// GoldenIsPhoto says that the golden is no dump but an earlier photo, in panel pixels and panel colours, as Rectify
	// and Result.Picture are.
	GoldenIsPhoto bool
}

// usualChance is the chance of a false alarm where none is asked for.
const usualChance = 1e-4

// usualMove is by how many photo pixels a rig may have moved where nothing else is said.
const usualMove = 2.5

// A Result is the outcome of a comparison, with what only photos have.
type Result struct {
	compare.Result
	Chance  float64         `json:"chance"` // that noise alone looks so, anywhere on the panel
	Move    [2]float64      `json:"move"`   // of the photo against the alignment, photo pixels
	Gain    [3]float64      `json:"gain"`   // light of each channel against the alignment
	Picture *image.NRGBA    `json:"-"`      // the photo in panel pixels and panel colours
	At      image.Rectangle `json:"-"`      // the window that decided
}

// NoCapture says why a photo can't be judged. It is an error, not a difference.
type NoCapture struct{ Why string }

func (e *NoCapture) Error() string { return "no verdict on the photo: " + e.Why }

func noCapture(format string, args ...any) error { return &NoCapture{fmt.Sprintf(format, args...)} }

// IsNoCapture reports whether an error says that a photo can't be judged.
func IsNoCapture(err error) bool { var e *NoCapture; return errors.As(err, &e) }

// Compare holds a photo against a golden, which is a dump if the options do not say otherwise. It gives NoCapture where the photo is
// of no use, and another error where the golden is.
func (o *Optics) Compare(golden, photo image.Image, opt Options) (*Result, error) {
	if opt.GoldenIsPhoto {
		if o.Repeat == nil {
			return nil, fmt.Errorf("this bench was aligned by a version that knew no goldens that are photos: run fascia bench align again")
		}
		o, opt.GoldenIsPhoto = o.twice(), false
	}
	o.prepare()
	g := &o.Geometry
	if s := golden.Bounds().Size(); s.X != g.Panel[0] || s.Y != g.Panel[1] {
		return nil, fmt.Errorf("the golden is %dx%d, the bench's panel %dx%d", s.X, s.Y, g.Panel[0], g.Panel[1])
	}
	if opt.FalseAlarm == 0 {
		opt.FalseAlarm = usualChance
	}
	if opt.FalseAlarm < 0 || opt.FalseAlarm >= 1 {
		return nil, fmt.Errorf("a chance of false alarm of %g: it lies between 0 and 1", opt.FalseAlarm)
	}
	if opt.Moved == 0 {
		opt.Moved = usualMove
	}
	if s := photo.Bounds().Size(); s.X != g.Photo[0] || s.Y != g.Photo[1] {
		return nil, noCapture("it is %dx%d, but the bench was aligned with photos of %dx%d; is it another camera's bench.yaml?", s.X, s.Y, g.Photo[0], g.Photo[1])
	}
	p := rectify.NewPhoto(photo)
	s := o.screenOf(golden)
	v, ok := o.look(p, s, rectify.Point{})
	defer func() { o.done(v) }()
	if !ok {
		if o.dark(v) {
			return nil, errDark()
		}
		return nil, noCapture("the panel is not where the bench was aligned: the camera moved; run fascia bench align")
	}
	if err := o.usable(p, s, v, opt); err != nil {
		return nil, err
	}
	skip := skipped(opt.Ignore, s.w, s.h)
	o.edges(v, s.w, s.h)
	o.whiten(v, &v.white)
	sum := &v.sums
	sum.total(&v.white, skip, s.w, s.h)
	rank, at := o.best(sum)
	if o.Tail.chance(rank) < opt.FalseAlarm && !o.repeats {
		// Of a screen with much even area moiré may fit nearly as well where the photo does not stand.
		was := v.Move
		if v = o.better(p, s, v); v.Move != was {
			sum = &v.sums
			o.edges(v, s.w, s.h)
			o.whiten(v, &v.white)
			sum.total(&v.white, skip, s.w, s.h)
			rank, at = o.best(sum)
		}
	}
	r := &Result{Chance: o.Tail.chance(rank), Move: [2]float64{v.Move.X, v.Move.Y}, Gain: v.Gain, At: at}
	r.Size = compare.Sizes{Golden: [2]int{s.w, s.h}, Capture: [2]int{s.w, s.h}}
	r.Causes, r.Regions = []compare.Cause{}, []compare.Region{}
	r.Same = r.Chance >= opt.FalseAlarm
	r.Picture = o.picture(v)
	if mean, low, at, ok := compare.SSIM(golden, r.Picture); ok { // reported, never decided on
		r.SSIM, r.SSIMMin, r.SSIMMinAt = &mean, &low, &[2]int{at.X, at.Y}
	}
	if d := v.Move.Norm(); d > 1 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("the photo stands %.1f px from where the bench was aligned", d))
	}
	if !r.Same {
		if d, moved := o.elsewhere(p, s, v); moved {
			return nil, errMoved(d)
		}
		mask := o.marks(sum, s, at, opt.FalseAlarm)
		if err := o.obstacle(v, mask, s, p); err != nil {
			return nil, err
		}
		o.explain(r, v, s, mask)
		if v.misfit() > 0.5 {
			r.Warnings = append(r.Warnings, "hardly anything is as the golden has it: if the device does show this screen, the camera is not the one of this bench.yaml, or it was moved; run fascia bench align")
		}
	}
	return r, nil
}

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
	if d := v.Move.Norm(); d > opt.Moved {
		// A photo that is far off is registered to the first place that fits a little.
		if far, moved := o.elsewhere(p, s, v); moved {
			return errMoved(far)
		}
		return noCapture("the camera moved by %.1f photo px, more than the %.1f that can be made good; run fascia bench align", d, opt.Moved)
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

func skipped(ignore []image.Rectangle, w, h int) []bool {
	var out []bool
	for _, r := range ignore {
		r = r.Intersect(image.Rect(0, 0, w, h))
		if out == nil && !r.Empty() {
			out = make([]bool, w*h)
		}
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				out[y*w+x] = true
			}
		}
	}
	return out
}

// picture turns what was seen into panel colours: gains, mixing and tone undone.
func (o *Optics) picture(v *sight) *image.NRGBA {
	w, h := v.seen.Width, v.seen.Height
	m := image.NewNRGBA(image.Rect(0, 0, w, h))
	var back [3][1024]uint8 // the tone's inverse
	for c := range back {
		code := 0
		for i := range back[c] {
			l := float32(i) / 1023
			for code < 255 && (o.Tones[c][code]+o.Tones[c][code+1])/2 < l {
				code++
			}
			back[c][i] = uint8(code)
		}
	}
	var gain [3]float32
	for c := range gain {
		gain[c] = 1 / float32(max(v.Gain[c], 0.1))
	}
	parallel(h, func(lo, hi int) {
		for k := lo * w; k < hi*w; k++ {
			var l [3]float32
			for c := range l {
				l[c] = v.seen.Light[c][k]*gain[c] - o.Dark[c][k]/o.Flat[c][k]
			}
			for c := range 3 {
				p := float32(o.Colour[c][0])*l[0] + float32(o.Colour[c][1])*l[1] + float32(o.Colour[c][2])*l[2]
				m.Pix[4*k+c] = back[c][int(min(max(p, 0), 1)*1023)]
			}
			m.Pix[4*k+3] = 255
		}
	})
	return m
}

// Rectify brings a photo to panel pixels and panel colours, without any golden.
func (o *Optics) Rectify(photo image.Image) (*image.NRGBA, error) {
	o.prepare()
	g := &o.Geometry
	if s := photo.Bounds().Size(); s.X != g.Photo[0] || s.Y != g.Photo[1] {
		return nil, fmt.Errorf("the photo is %dx%d, but the bench was aligned with photos of %dx%d", s.X, s.Y, g.Photo[0], g.Photo[1])
	}
	v := &sight{Gain: [3]float64{1, 1, 1}}
	if !o.sampler.Sample(rectify.NewPhoto(photo), rectify.Point{}, &v.seen) {
		return nil, fmt.Errorf("part of the panel lies off the photo")
	}
	o.normalise(&v.seen, nil)
	return o.picture(v), nil
}
