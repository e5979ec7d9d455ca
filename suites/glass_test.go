package suites

import (
	"context"
	"image"
	"image/color"
	"image/draw"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/compare/photo"
)

// painter is a device that shows what it is sent, but for what its firmware spoils.
type painter struct {
	Device
	format  capture.Format
	spoil   image.Rectangle
	holds   *capture.Frame
	rests   time.Duration
	carries int // looks that were of another picture than the known one
}

func (p *painter) Hello() link.Hello { return link.Hello{Width: 40, Height: 30, Format: p.format} }
func (p *painter) Wait(_ context.Context, d time.Duration) error {
	p.rests += d
	return nil
}
func (p *painter) Pattern(context.Context, ...byte) error { return nil }
func (p *painter) Hide(context.Context) error             { return nil }

func (p *painter) Show(_ context.Context, m, _ image.Image) error {
	out := image.NewRGBA(m.Bounds())
	draw.Draw(out, out.Rect, m, m.Bounds().Min, draw.Src)
	draw.Draw(out, p.spoil, image.NewUniform(color.RGBA{R: 255, A: 255}), image.Point{}, draw.Src)
	p.holds, _ = capture.FromImage(out, p.format, nil)
	return nil
}

func (p *painter) Look(_ context.Context, o link.LookOptions) (link.Look, error) {
	if len(o.Known) != 1 || !capture.Changed(o.Known[0], p.holds).Empty() {
		p.carries++
	}
	return link.Look{Frame: p.holds}, nil
}

// TestTheDumpStandsBesideTheGlass: what the framebuffer itself has wrong is found there, and a card that a panel's format
// does not know is no card.
func TestTheDumpStandsBesideTheGlass(t *testing.T) {
	row := image.Rect(0, 12, 40, 13)
	for _, tt := range []struct {
		name  string
		dev   painter
		off   image.Rectangle
		says  string
		moved int
	}{
		{"sound", painter{format: capture.RGB565LE}, image.Rectangle{}, "", 0},
		{"a row that the firmware spoils", painter{format: capture.RGB565LE, spoil: row}, row, "", 3},
		{"a panel without colours", painter{format: capture.Grey4}, image.Rectangle{}, "can't show the cards' colours", 0},
	} {
		d := &driver{dev: &tt.dev}
		var off image.Rectangle
		var err error
		for _, name := range []string{"white", "black", "quarters"} {
			var this image.Rectangle
			if this, err = d.showCard(t.Context(), &tt.dev, photo.CardNamed(40, 30, name), nil); err != nil {
				break
			}
			off = off.Union(this)
		}
		if tt.says != "" {
			if err == nil || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("%s: %v", tt.name, err)
			}
			continue
		}
		if err != nil || off != tt.off || tt.dev.carries != tt.moved {
			t.Errorf("%s: off in %v, want %v; %d pictures travelled, want %d; %v", tt.name, off, tt.off, tt.dev.carries, tt.moved, err)
		}
		if tt.dev.rests < 3*100*time.Millisecond {
			t.Errorf("%s: the cards stood for %v in all: liquid crystals are slower", tt.name, tt.dev.rests)
		}
	}
}
