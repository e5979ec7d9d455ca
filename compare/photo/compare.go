package photo

import (
	"fmt"
	"image"

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
	s := o.screenOf(golden)
	p := rectify.NewPhoto(photo)
	skip := skipped(opt.Ignore, s.w, s.h)
	l, err := o.stand(p, s, skip, opt)
	if err != nil {
		return nil, err
	}
	o, v := l.o, l.v
	defer o.done(v)
	r := &Result{Chance: l.chance(), Move: [2]float64{v.Move.X, v.Move.Y}, Gain: v.Gain, At: l.at}
	r.Size = compare.Sizes{Golden: [2]int{s.w, s.h}, Capture: [2]int{s.w, s.h}}
	r.Causes, r.Regions = []compare.Cause{}, []compare.Region{}
	r.Same = r.Chance >= opt.FalseAlarm
	r.Picture = o.picture(v)
	if mean, low, at, ok := compare.SSIM(golden, r.Picture); ok { // reported, never decided on
		r.SSIM, r.SSIMMin, r.SSIMMinAt = &mean, &low, &[2]int{at.X, at.Y}
	}
	if far := o.pivot.farthest(v.Move, o.leans); o.leans != (lean{}) {
		r.Warnings = append(r.Warnings, fmt.Sprintf("the camera has turned: the panel's corners stand up to %.1f photo px from where the bench was aligned", far))
	} else if far > 1 {
		r.Warnings = append(r.Warnings, fmt.Sprintf("the photo stands %.1f px from where the bench was aligned", far))
	}
	if !r.Same {
		if d, moved := o.elsewhere(p, s, v); moved {
			return nil, errMoved(d)
		}
		mask := o.marks(&v.sums, s, l.at, opt.FalseAlarm)
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
