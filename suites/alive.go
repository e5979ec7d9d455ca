package suites

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math/rand/v2"
	"strings"

	"github.com/fascia-bench/fascia/capture/link"
)

// A counter is a device that counts what it draws.
type counter interface {
	Counter() (count uint16, any bool)
}

// ErrNotDrawing means that a device answers, and draws nothing: what its panel shows may be old.
var ErrNotDrawing = errors.New("the device draws nothing")

// A witness keeps account of whether a device that answers also draws. Its agent may live while its user interface is dead, and then
// shows an old picture for ever.
type witness struct {
	count uint16   // when the device was last given something to react to
	looks []string // taken since it was last seen to draw
}

// gave notes that the device is being given something to react to.
func (w *witness) gave(dev Device) {
	if c, ok := dev.(counter); ok {
		w.count, _ = c.Counter()
	}
}

// saw notes a look. One of a device that has drawn nothing since it started is of before that.
func (w *witness) saw(dev Device, look string) error {
	c, ok := dev.(counter)
	if !ok {
		return nil
	}
	count, any := c.Counter()
	if !any {
		return fmt.Errorf("%w: its frame counter is 0 since it started, so what the panel shows is of before that. If its firmware does draw, let it count every change of a pixel (frames in struct fascia_port)", ErrNotDrawing)
	}
	if w.looks = append(w.looks, look); count != w.count {
		w.looks = nil
	}
	return nil
}

// testify settles at a walk's end what nothing has shown by itself: that the device still draws. That a screen stays as it is proves
// nothing, so the panel is filled with one colour, and the user interface must come back over it.
func (w *witness) testify(ctx context.Context, dev Device) error {
	s, ok := dev.(shower)
	if len(w.looks) == 0 || !ok || !dev.Hello().Has(link.CanPattern) {
		return nil
	}
	before, _, err := dev.Glance(ctx, 0, 0)
	if err != nil {
		return err
	}
	const solid = 1 // of PROTOCOL.md
	err = s.Pattern(ctx, solid, byte(rand.Uint32()), byte(rand.Uint32()), byte(rand.Uint32()))
	err = errors.Join(err, s.Hide(ctx))
	if errors.Is(err, link.ErrBadValue) || errors.Is(err, link.ErrUnsupported) {
		return nil // nothing can be said
	}
	if err != nil {
		return err
	}
	after, err := dev.Look(ctx, link.LookOptions{Still: defaultStill, Latest: defaultLatest})
	if err != nil {
		return err
	}
	if after.Hash != before && plain(after.Frame.RGBA()) {
		return fmt.Errorf("%w: filled with one colour at the walk's end, the panel stayed so. Looks since it was last seen to draw may be of an old picture: %s", ErrNotDrawing, strings.Join(w.looks, ", "))
	}
	return nil
}

// plain reports whether a picture is of one colour.
func plain(m *image.RGBA) bool {
	for i := 4; i < len(m.Pix); i++ {
		if m.Pix[i] != m.Pix[i-4] {
			return false
		}
	}
	return true
}
