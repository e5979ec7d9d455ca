package link_test

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/capturetest"
	"github.com/fascia-bench/fascia/capture/link"
)

// A line that takes three bytes a millisecond makes the device draw again for nearly every frame, and
// damage on the line makes it begin again midway: the picture is the same.
func TestStripsOverASlowLine(t *testing.T) {
	p := capturetest.Panel{Width: 160, Height: 100, Format: capture.RGB565LE}
	noise := &capturetest.Noise{Rate: 3e-4, Rand: rand.New(rand.NewPCG(3, 3))}
	c := dial(t, &capturetest.Tap{Stream: stripDevice(t, p), Up: noise.Damage, Down: noise.Damage}, link.Options{Tries: 10, Bound: 10 * time.Minute})
	want := p.NewFrame()
	feed(t, c, "slow", "3")
	for seed := uint32(1); seed < 6; seed++ {
		feed(t, c, "paint", fmt.Sprint(seed))
		capturetest.Paint(want, seed)
		same(t, fmt.Sprint(seed), look(t, c, soon).Frame, want)
	}
}

// What the device can remember of flushed areas is bounded; beyond that a look says that it is as
// drawn anew. Areas that follow each other, as strips do, are one.
func TestMoreAreasThanTheDeviceRemembers(t *testing.T) {
	p := capturetest.Panel{Width: 200, Height: 120, Format: capture.RGB565LE}
	c := dial(t, stripDevice(t, p), link.Options{})
	want := p.NewFrame()
	if l := look(t, c, soon); l.Redrawn {
		t.Error("the panel was flushed at boot, and the look says that it is drawn anew")
	}
	for _, areas := range []int{1, 8, 9, 30, 3} {
		for i := range areas {
			x, y := 20*(i%9), 12*(i/9)
			feed(t, c, "area", fmt.Sprintf("%d,%d,%d,10,9", i+areas, x, y))
			capturetest.PaintArea(want, uint32(i+areas), x, y, 10, 9)
		}
		l := look(t, c, soon)
		same(t, fmt.Sprint(areas), l.Frame, want)
		if l.Redrawn != (areas > 8) {
			t.Errorf("%d areas: drawn anew %v", areas, l.Redrawn)
		}
	}
	feed(t, c, "paint", "4")
	capturetest.Paint(want, 4)
	if l := look(t, c, soon); l.Redrawn {
		t.Error("the whole panel was flushed, and the look says that it is drawn anew")
	} else {
		same(t, "painted", l.Frame, want)
	}
}

// What changes without being flushed is not on the panel, until everything is drawn again there.
func TestWhatIsNotFlushedIsNotShown(t *testing.T) {
	for f := capture.MonoRows; f.Valid(); f++ {
		if f == capture.Palette8 {
			continue // its frames carry a palette, which the test would have to know
		}
		p := capturetest.Panel{Width: 70, Height: 45, Format: f}
		c := dial(t, stripDevice(t, p), link.Options{})
		old, changed := p.NewFrame(), p.NewFrame()
		capturetest.Paint(old, 5)
		capturetest.Paint(changed, 5)
		g := f.Grid(p.Width, p.Height)
		capturetest.PaintArea(changed, 7, 0, 0, g.Cells, g.Rows/2)
		feed(t, c, "paint", "5")
		look(t, c, soon)
		feed(t, c, "forget", fmt.Sprintf("7,0,0,%d,%d", g.Cells, g.Rows/2))
		l := look(t, c, soon)
		same(t, f.String(), l.Frame, old)
		same(t, f.String()+" drawn", c.Drawn(), changed)
		again := soon
		again.Redraw = true
		same(t, f.String()+" anew", look(t, c, again).Frame, changed)
		l = look(t, c, soon)
		same(t, f.String()+" after", l.Frame, changed)
		if l.Bytes > 40 || l.Redrawn {
			t.Errorf("%v: %d bytes, redrawn %v", f, l.Bytes, l.Redrawn)
		}
	}
}
