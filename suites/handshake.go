package suites

import (
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math/rand/v2"
	"time"

	"github.com/fascia-bench/fascia/capture/link"
)

const (
	fieldsAcross, fieldsDown = 8, 6
	fields                   = fieldsAcross * fieldsDown
	// fieldsRight is how many fields a photo must show as they are. Dead rows, a finger or a reflection spoil a few. Any other of the
	// 3.2e13 patterns with as much white as black shows so many of these right with a chance below 1e-8 [calculated].
	fieldsRight = fields - 4
	// fieldsApart is the least light between white and black fields, as a share of full scale: a panel that is dark has none.
	fieldsApart = 0.15
	crystals    = 150 * time.Millisecond // for liquid crystals to turn; common practice, no source
)

// ErrBlind means that the bench's camera does not see what its panel shows now.
var ErrBlind = errors.New("the camera does not see its panel")

// A greeting is fields of black and white, drawn by lot, which the panel shows so that a photo proves when it was taken.
type greeting [fields]bool

func newGreeting() (g greeting) {
	for _, i := range rand.Perm(fields)[:fields/2] {
		g[i] = true
	}
	return g
}

// field is the place of field i on a panel.
func field(i, width, height int) image.Rectangle {
	x, y := i%fieldsAcross, i/fieldsAcross
	return image.Rect(x*width/fieldsAcross, y*height/fieldsDown, (x+1)*width/fieldsAcross, (y+1)*height/fieldsDown)
}

// picture is what the panel is to show.
func (g greeting) picture(width, height int) image.Image {
	m := image.NewRGBA(image.Rect(0, 0, width, height))
	for i, white := range g {
		c := image.Image(image.Black)
		if white {
			c = image.White
		}
		draw.Draw(m, field(i, width, height), c, image.Point{}, draw.Src)
	}
	return m
}

// read counts the fields that a photo in panel pixels shows as they are. The mean light of the fields that should be white and of
// those that should be black part light from dark, so that another exposure or a dimmed panel does no harm.
func (g greeting) read(m image.Image) (right int) {
	var light [fields]float64
	var mean [2]float64 // of black, of white
	b := m.Bounds()
	for i := range light {
		r := field(i, b.Dx(), b.Dy()).Add(b.Min)
		r = r.Inset(min(r.Dx(), r.Dy()) / 4) // its edges are soft, and the rig may have moved
		for y := r.Min.Y; y < r.Max.Y; y++ {
			for x := r.Min.X; x < r.Max.X; x++ {
				light[i] += float64(color.GrayModel.Convert(m.At(x, y)).(color.Gray).Y)
			}
		}
		light[i] /= 255 * float64(r.Dx()*r.Dy())
		mean[g.is(i)] += light[i] / (fields / 2)
	}
	if mean[1]-mean[0] < fieldsApart {
		return 0
	}
	for i, l := range light {
		if (l > (mean[0]+mean[1])/2) == g[i] {
			right++
		}
	}
	return right
}

func (g greeting) is(i int) int {
	if g[i] {
		return 1
	}
	return 0
}

// handshake has the panel show a greeting and the camera photograph it: what it photographs next is this panel, now. It tells device
// and camera apart: an error of the camera is ErrBlind or the source's own and comes as blind.
func (e *eye) handshake(ctx context.Context, dev Device) (blind, err error) {
	s, ok := dev.(shower)
	if h := dev.Hello(); !ok || !h.Has(link.CanPattern) {
		e.unproved("shows no patterns")
		return nil, nil
	}
	defer func() { err = errors.Join(err, s.Hide(ctx)) }()
	right := 0
	for range 2 { // a hand may just have left
		g, h := newGreeting(), dev.Hello()
		err := s.Show(ctx, g.picture(h.Width, h.Height), nil)
		if errors.Is(err, link.ErrBadValue) || errors.Is(err, link.ErrUnsupported) {
			e.unproved("does not paint (pattern 7 of PROTOCOL.md)")
			return nil, nil
		}
		if err == nil {
			err = dev.Wait(ctx, crystals)
		}
		if err != nil {
			return nil, fmt.Errorf("show the camera a pattern: %w", err)
		}
		shot, err := e.photo(ctx)
		if err != nil {
			return err, nil
		}
		seen, err := e.optics.Rectify(shot)
		if err != nil {
			return fmt.Errorf("%w: %w", ErrBlind, err), nil
		}
		if right = g.read(seen); right >= fieldsRight {
			return nil, nil
		}
	}
	return fmt.Errorf("%w: the panel was asked to show a pattern drawn by lot, and the photo has %d of its %d fields right: "+
		"the camera gives old pictures, has moved, is covered, or the panel is dark", ErrBlind, right, fields), nil
}

// unproved tells once that nothing proves how old photos are.
func (e *eye) unproved(why string) {
	const says = "camera: the device %s, so nothing proves before a walk that photos are of now"
	if !e.warned[why] {
		e.warned[why] = true
		e.note(fmt.Sprintf(says, why))
	}
}

// meet shakes hands before a walk. A device that does not answer, or has started anew since the last walk, is reset first.
func (s *session) meet(ctx context.Context, d *driver, w *Walk) error {
	if s.eye == nil {
		return nil
	}
	blind, err := s.eye.handshake(ctx, s.dev)
	if err != nil && blind == nil && s.dev.CanReset() && ctx.Err() == nil {
		if err = d.restart(ctx, w); err == nil {
			blind, err = s.eye.handshake(ctx, s.dev)
		}
	}
	return errors.Join(blind, err)
}
