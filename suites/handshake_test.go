package suites

import (
	"context"
	"errors"
	"image"
	"image/color"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/link"
)

// TestGreeting: a photo of the pattern is known through what photos suffer, and no other is taken for it.
func TestGreeting(t *testing.T) {
	const w, h = 320, 240
	through := func(m image.Image, f func(x, y int, v float64) float64) image.Image {
		out := image.NewNRGBA(image.Rect(7, -3, 7+w, h-3))
		for y := range h {
			for x := range w {
				v := f(x, y, float64(color.GrayModel.Convert(m.At(x, y)).(color.Gray).Y))
				out.Set(x+7, y-3, color.Gray{uint8(min(255, max(0, v)))})
			}
		}
		return out
	}
	for range 20 {
		g := newGreeting()
		m := g.picture(w, h)
		white := 0
		for i := range g {
			white += g.is(i)
		}
		if white != fields/2 {
			t.Fatalf("%d of %d fields are white", white, fields)
		}
		for name, f := range map[string]func(x, y int, v float64) float64{
			"as it is":     func(_, _ int, v float64) float64 { return v },
			"half exposed": func(_, _ int, v float64) float64 { return v / 2 },
			"glare":        func(x, _ int, v float64) float64 { return v/2 + float64(x)/4 },
			"a finger": func(x, y int, v float64) float64 {
				if x < 60 && y < 60 {
					return 20
				}
				return v
			},
			"dead rows": func(_, y int, v float64) float64 {
				if y%40 < 4 {
					return 0
				}
				return v
			},
			"a weak screen": func(_, _ int, v float64) float64 { return 60 + v/4 },
		} {
			if right := g.read(through(m, f)); right < fieldsRight {
				t.Errorf("%s: %d fields right", name, right)
			}
		}
		for name, old := range map[string]image.Image{
			"another greeting": newGreeting().picture(w, h),
			"white":            image.NewUniform(color.White),
			"black":            image.NewUniform(color.Black),
			"upside down":      through(m, func(_, _ int, v float64) float64 { return 255 - v }),
		} {
			right := g.read(through(old, func(_, _ int, v float64) float64 { return v }))
			if most := map[bool]int{true: 0, false: fieldsRight - 1}[name == "upside down"]; right > most {
				t.Errorf("%s is taken for the greeting: %d fields right", name, right)
			}
		}
	}
}

// mute is a device that paints nothing.
type mute struct {
	Device
	has   link.Capability
	shown error
	back  int
}

func (m *mute) Hello() link.Hello                                    { return link.Hello{Width: 320, Height: 240, Can: m.has} }
func (m *mute) Show(context.Context, image.Image, image.Image) error { return m.shown }
func (m *mute) Pattern(context.Context, ...byte) error               { return nil }
func (m *mute) Hide(context.Context) error                           { m.back++; return nil }
func (m *mute) Wait(context.Context, time.Duration) error            { return nil }

// TestADeviceThatDoesNotPaint walks without the proof, which is noted once; one that is gone does not pass for it.
func TestADeviceThatDoesNotPaint(t *testing.T) {
	var notes []string
	e := &eye{warned: map[string]bool{}, note: func(text string) { notes = append(notes, text) }}
	for _, tt := range []struct {
		name string
		dev  *mute
		says string
		back int
	}{
		{"no patterns", &mute{}, "shows no patterns", 0},
		{"no painting", &mute{has: link.CanPattern, shown: link.ErrBadValue}, "does not paint", 1},
	} {
		notes = nil
		for range 3 {
			if blind, err := e.handshake(t.Context(), tt.dev); blind != nil || err != nil {
				t.Errorf("%s: %v, %v", tt.name, blind, err)
			}
		}
		if len(notes) != 1 || !strings.Contains(notes[0], tt.says) || tt.dev.back != 3*tt.back {
			t.Errorf("%s: noted %q, %d times back to the UI", tt.name, notes, tt.dev.back)
		}
	}
	if blind, err := e.handshake(t.Context(), &mute{has: link.CanPattern, shown: link.ErrSilent}); blind != nil || !errors.Is(err, link.ErrSilent) {
		t.Errorf("a device that does not answer: %v, %v", blind, err)
	}
}
