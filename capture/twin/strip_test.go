package twin_test

import (
	"bytes"
	"fmt"
	"image"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/twin"
)

func connect(t testing.TB, wasm string) *link.Conn {
	t.Helper()
	b, err := os.ReadFile("../../suites/demo/" + wasm)
	if err != nil {
		t.Fatal(err)
	}
	p, err := twin.Load(t.Context(), b)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.Close() })
	tw, err := p.Boot()
	if err != nil {
		t.Fatal(err)
	}
	c, err := link.Dial(t.Context(), tw, link.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := c.SetClock(t.Context(), time.Date(2031, 5, 4, 9, 30, 0, 0, time.UTC), true); err != nil {
		t.Fatal(err)
	}
	if err := c.Wait(t.Context(), 5*time.Second); err != nil { // past the splash
		t.Fatal(err)
	}
	return c
}

// stray does something at random to a device, the same for the same r.
func stray(t *testing.T, c *link.Conn, r *rand.Rand) {
	t.Helper()
	ctx := t.Context()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	switch r.IntN(6) {
	case 0, 1, 2:
		targets, err := c.List(ctx, link.Targets)
		must(err)
		if len(targets) == 0 {
			return
		}
		var x, y, w, h int
		if _, err := fmt.Sscanf(targets[r.IntN(len(targets))].Value, "%d,%d,%d,%d", &x, &y, &w, &h); err != nil {
			t.Fatal(err)
		}
		must(c.Input(ctx, link.Event{Kind: link.TouchDown, A: x + w/2, B: y + h/2}))
		must(c.Input(ctx, link.Event{Kind: link.TouchUp, A: x + w/2, B: y + h/2, After: 80 * time.Millisecond}))
	case 3:
		key := []int{0x28, 0x29, 0x4f, 0x50, 0x29}[r.IntN(5)]
		must(c.Input(ctx, link.Event{Kind: link.KeyDown, A: 7, B: key}))
		must(c.Input(ctx, link.Event{Kind: link.KeyUp, A: 7, B: key, After: 60 * time.Millisecond}))
	case 4:
		must(c.Input(ctx, link.Event{Kind: link.Turn, A: 1 + r.IntN(3)}))
	default:
		must(c.Feed(ctx, "temperature", fmt.Sprintf("%d.%d", 15+r.IntN(20), r.IntN(10))))
	}
}

// The firmware that draws into strips of 24 rows shows, as the host's mirror has it, what the same
// firmware with a framebuffer shows, to the pixel; and drawn anew the same as well. The framebuffer is
// the truth here: with draw-2 it keeps stale rows, which the mirror must have, too.
func TestStripsShowWhatTheFramebufferShows(t *testing.T) {
	for draw, steps := range map[int]int{1: 30, 2: 30} {
		t.Run(fmt.Sprintf("draw-%d", draw), func(t *testing.T) {
			t.Parallel()
			full := connect(t, fmt.Sprintf("fernhouse-draw-%d.wasm", draw))
			strip := connect(t, fmt.Sprintf("testdata/fernhouse-strip-%d.wasm", draw))
			if h := strip.Hello(); !h.Has(link.Strips|link.CanRedraw|link.CanHold) || h.Has(link.FlushedIsShown) || full.Hello().Has(link.Strips) {
				t.Fatalf("capabilities %#x, of the other %#x", h.Can, full.Hello().Can)
			}
			distinct, stale := map[uint64]bool{}, 0
			for i := range steps {
				for _, c := range []*link.Conn{full, strip} {
					stray(t, c, rand.New(rand.NewPCG(2031, uint64(i))))
				}
				for _, redraw := range []bool{false, i%5 == 4} {
					opt := settled
					opt.Redraw = redraw
					want, err := full.Look(t.Context(), opt)
					if err != nil {
						t.Fatal(err)
					}
					got, err := strip.Look(t.Context(), opt)
					if err != nil {
						t.Fatal(err)
					}
					if got.Moving || got.Redrawn || got.Hash != want.Hash || !bytes.Equal(got.Frame.Pix, want.Frame.Pix) {
						t.Fatalf("step %d, redraw %v: not what the framebuffer holds (moving %v, redrawn %v): %v", i, redraw, got.Moving, got.Redrawn,
							differing(got.Frame, want.Frame))
					}
					distinct[got.Hash] = true
					if redraw {
						before, err := strip.Look(t.Context(), settled)
						if err != nil {
							t.Fatal(err)
						}
						if before.Hash != got.Hash {
							t.Fatalf("step %d: a full redraw leaves another picture on the panel", i)
						}
					} else if drawn := link.HashFrame(strip.Drawn()); drawn != got.Hash {
						stale++
					}
				}
			}
			if len(distinct) < steps/4 {
				t.Errorf("%d pictures only", len(distinct))
			}
			if (draw == 2) != (stale > 0) {
				t.Errorf("%d looks show what a redraw would not", stale)
			}
			t.Logf("%d pictures, %d looks with stale pixels", len(distinct), stale)
		})
	}
}

func differing(a, b *capture.Frame) image.Rectangle {
	var r image.Rectangle
	x, y := a.RGBA(), b.RGBA()
	for p := 0; p < a.Width*a.Height; p++ {
		at := image.Pt(p%a.Width, p/a.Width)
		if x.RGBAAt(at.X, at.Y) != y.RGBAAt(at.X, at.Y) {
			r = r.Union(image.Rectangle{at, at.Add(image.Pt(1, 1))})
		}
	}
	return r
}

// An unchanged look costs no more without a framebuffer, and a first one not much more than with it:
// runs end where a strip does.
func TestWhatStripsCost(t *testing.T) {
	full, strip := connect(t, "fernhouse-draw-1.wasm"), connect(t, "testdata/fernhouse-strip-1.wasm")
	want, err := full.Look(t.Context(), settled)
	if err != nil {
		t.Fatal(err)
	}
	first, err := strip.Look(t.Context(), settled)
	if err != nil {
		t.Fatal(err)
	}
	again, err := strip.Look(t.Context(), settled)
	if err != nil {
		t.Fatal(err)
	}
	if again.Bytes > 40 {
		t.Errorf("an unchanged look moves %d bytes, want at most 40", again.Bytes)
	}
	if float64(first.Bytes) > 1.15*float64(want.Bytes) {
		t.Errorf("a first look moves %d bytes, with a framebuffer %d", first.Bytes, want.Bytes)
	}
	t.Logf("first look: %d bytes, with a framebuffer %d; unchanged %d", first.Bytes, want.Bytes, again.Bytes)
}
