package suites

import (
	"context"
	"errors"
	"fmt"
	"image"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/compare/photo"
	"github.com/fascia-bench/fascia/suites/record"
)

// A shower is a device that shows what it is sent.
type shower interface {
	Show(ctx context.Context, m, was image.Image) error
	Pattern(ctx context.Context, args ...byte) error
	Hide(ctx context.Context) error
}

// cardRests is how long a card stands before its photo is taken: liquid crystals are slow. Common practice, no source.
const cardRests = 150 * time.Millisecond

// expectGlass shows test cards and looks for what the glass does to them. Beside each photo stands the framebuffer: what is amiss
// there as well is not the glass's doing.
func (d *driver) expectGlass(ctx context.Context, g Glass, line int) (err error) {
	dev, ok := d.dev.(shower)
	if !ok || d.eye == nil {
		return errors.New("this bench cannot show cards to a camera")
	}
	defer func() {
		err = errors.Join(err, dev.Hide(ctx))
		d.touched()
	}()
	result := func(missed []string) {
		r := record.Met
		if len(missed) > 0 {
			r = record.Missed
		}
		d.expect("glass", line, r, strings.Join(missed, "\n"))
	}
	var shots, cards []image.Image
	var amiss []string
	for _, name := range []string{"white", "black", "quarters"} {
		card := photo.CardNamed(d.dev.Hello().Width, d.dev.Hello().Height, name)
		var was image.Image
		if len(cards) > 0 {
			was = cards[len(cards)-1]
		}
		off, err := d.showCard(ctx, dev, card, was)
		if err != nil {
			return err
		}
		if !off.Empty() {
			amiss = append(amiss, fmt.Sprintf("the framebuffer itself does not hold the %s card: it is another in %dx%d at %d,%d, so look for the fault in the firmware, not on the glass", name, off.Dx(), off.Dy(), off.Min.X, off.Min.Y))
		}
		shot, err := d.eye.photo(ctx)
		if err != nil {
			return err
		}
		shots, cards = append(shots, shot), append(cards, card)
	}
	if amiss != nil {
		result(amiss)
		return nil
	}
	pixels, err := d.eye.optics.CheckPixels(shots[0], shots[1])
	if err != nil {
		return err
	}
	for _, text := range pixels.Untold {
		d.eye.once("glass: " + text)
	}
	missed := pixels.Says
	if g.Uniformity > 0 && pixels.Uniformity < g.Uniformity {
		missed = append(missed, fmt.Sprintf("white is uneven: its darkest place has %.2f of the light of its brightest, and %.2f are asked", pixels.Uniformity, g.Uniformity))
	}
	says, err := d.eye.optics.CheckCard(cards[2], shots[2])
	if err != nil {
		return err
	}
	// A picture that stands elsewhere leaves a strip at the panel's edge; without one, faults within explain the card.
	h := d.dev.Hello()
	if says != "" && (len(pixels.Dead) == 0 || !strings.HasSuffix(says, "px off on the glass") || edgeStrip(pixels.Dead, h.Width, h.Height)) {
		missed = append(missed, says)
	}
	result(missed)
	return nil
}

// showCard has the device show a card and gives the area in which its framebuffer holds something else.
func (d *driver) showCard(ctx context.Context, dev shower, card, was image.Image) (off image.Rectangle, err error) {
	if err := dev.Show(ctx, card, was); err != nil {
		return off, err
	}
	if err := d.dev.Wait(ctx, cardRests); err != nil {
		return off, err
	}
	want, exact := capture.FromImage(card, d.dev.Hello().Format, nil)
	if !exact {
		return off, fmt.Errorf("a panel in %v can't show the cards' colours", d.dev.Hello().Format)
	}
	// A device that shows the card to the bit costs a hash.
	got, err := d.dev.Look(ctx, link.LookOptions{Known: []*capture.Frame{want}})
	if err != nil {
		return off, err
	}
	return capture.Changed(want, got.Frame), nil
}

// edgeStrip reports whether one of some areas is a strip along the panel's edge.
func edgeStrip(areas []image.Rectangle, w, h int) bool {
	for _, r := range areas {
		if r.Dx() > w/2 && (r.Min.Y <= 2 || r.Max.Y >= h-2) || r.Dy() > h/2 && (r.Min.X <= 2 || r.Max.X >= w-2) {
			return true
		}
	}
	return false
}
