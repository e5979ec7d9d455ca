package align

import (
	"context"
	"errors"
	"fmt"
	"image"
	"os"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/camera"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/compare/photo"
)

// A Device can be asked to show a picture.
type Device interface {
	Hello() link.Hello
	Show(ctx context.Context, m, was image.Image) error
	Hide(ctx context.Context) error
	Look(context.Context, link.LookOptions) (link.Look, error)
}

// Live says how photos are taken of a device that shows the patterns.
type Live struct {
	Pause time.Duration               // from a pattern to its photo, for liquid crystals to turn; 0: 150 ms, common practice, no source
	Keep  string                      // folder for the photos; "": they are not kept
	Own   []image.Image               // screens of the device's own, of the panel's size, for trials; may be nil
	Tell  func(i, n int, name string) // called before each photo; may be nil
	Warn  func(text string)           // told once of each thing that makes photos worth less; may be nil
}

// Patterns has the device show each pattern, photographs it, and brings the user interface back.
func (l Live) Patterns(ctx context.Context, d Device, s *camera.Source) (patterns []photo.Pattern, shots []image.Image, err error) {
	h := d.Hello()
	if err := checkPanel(h.Width, h.Height); err != nil {
		return nil, nil, err
	}
	if !h.Has(link.CanPattern) {
		return nil, nil, fmt.Errorf("this device shows no patterns: write them with fascia bench patterns, show them by other means, and align from the folder of photos")
	}
	if l.Pause == 0 {
		l.Pause = 150 * time.Millisecond
	}
	if l.Keep != "" {
		if err := os.MkdirAll(l.Keep, 0o777); err != nil {
			return nil, nil, fmt.Errorf("make the folder for photos: %w", err)
		}
	}
	defer func() { err = errors.Join(err, d.Hide(ctx)) }()
	told := map[string]bool{}
	patterns = photo.Patterns(h.Width, h.Height, l.Own...)
	var was image.Image
	for i, p := range patterns {
		if l.Tell != nil {
			l.Tell(i+1, len(patterns), p.Name)
		}
		if err := show(ctx, d, p, was); err != nil {
			return nil, nil, err
		}
		was = p.Image
		select {
		case <-time.After(l.Pause):
		case <-ctx.Done():
			return nil, nil, ctx.Err()
		}
		m, err := s.Photo(ctx)
		if err != nil {
			return nil, nil, err
		}
		for _, w := range s.Warnings {
			if l.Warn != nil && !told[w] {
				told[w] = true
				l.Warn(w)
			}
		}
		if l.Keep != "" {
			if err := keep(p, m, l.Keep); err != nil {
				return nil, nil, err
			}
		}
		shots = append(shots, m)
	}
	return patterns, shots, nil
}

// show has the device show a pattern and makes sure that it does. A device that shows it to the bit costs a
// hash for that.
func show(ctx context.Context, d Device, p photo.Pattern, was image.Image) error {
	want, exact := capture.FromImage(p.Image, d.Hello().Format, nil)
	if !exact {
		return fmt.Errorf("a panel in %v can't show the patterns' colours: cameras are for panels of 16 bits a pixel and more", d.Hello().Format)
	}
	if err := d.Show(ctx, p.Image, was); err != nil {
		if errors.Is(err, link.ErrBadValue) {
			err = fmt.Errorf("the device's firmware does not paint (pattern 7 of PROTOCOL.md): %w", err)
		}
		return fmt.Errorf("show pattern %s: %w", p.Name, err)
	}
	got, err := d.Look(ctx, link.LookOptions{Known: []*capture.Frame{want}})
	if err != nil {
		return fmt.Errorf("show pattern %s: %w", p.Name, err)
	}
	if off := capture.Changed(want, got.Frame); !off.Empty() {
		return fmt.Errorf("the device does not show pattern %s as it was asked to: it is another in %dx%d at %d,%d", p.Name, off.Dx(), off.Dy(), off.Min.X, off.Min.Y)
	}
	return nil
}
