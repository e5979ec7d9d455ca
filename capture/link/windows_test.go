package link_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/capturetest"
	"github.com/fascia-bench/fascia/capture/link"
)

// What stands anywhere in a known frame is not sent: a screen whose golden is the same picture
// scrolled costs its hashes and the part that scrolled in. Noise everywhere makes each tile unique.
func TestAScrolledScreenIsMostlyKnown(t *testing.T) {
	for _, format := range []capture.Format{capture.RGB565LE, capture.Grey8, capture.XRGB8888, capture.RGB888, capture.MonoRows} {
		p := capturetest.Panel{Width: 320, Height: 240, Format: format}
		c := dial(t, device(t, p), link.Options{})
		feed(t, c, "paint", "11")
		want := p.NewFrame()
		capturetest.Paint(want, 11)
		g := format.Grid(p.Width, p.Height)
		golden := p.NewFrame()
		const dx, dy = 5, 7 // cells and rows
		for y := dy; y < g.Rows; y++ {
			n := g.Cells * g.CellBytes
			copy(golden.Pix[(y-dy)*n:][:n-dx*g.CellBytes], want.Pix[y*n+dx*g.CellBytes:])
		}
		cold := look(t, dial(t, deviceShowing(t, p, 11), link.Options{}), soon)
		l := look(t, c, link.LookOptions{Still: 5 * time.Millisecond, Latest: time.Second, Known: []*capture.Frame{golden}})
		same(t, fmt.Sprint(format), l.Frame, want)
		if l.Bytes*2 > cold.Bytes && cold.Bytes > 4000 {
			t.Errorf("%v: scrolled, the look moved %d bytes; to a host that knows nothing %d", format, l.Bytes, cold.Bytes)
		}
		t.Logf("%v: %d bytes instead of %d", format, l.Bytes, cold.Bytes)
	}
}

func deviceShowing(t testing.TB, p capturetest.Panel, seed int) *capturetest.Device {
	t.Helper()
	d := device(t, p)
	feed(t, dial(t, d, link.Options{}), "paint", fmt.Sprint(seed))
	return d
}
