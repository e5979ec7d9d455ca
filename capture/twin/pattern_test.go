package twin_test

import (
	"bytes"
	"context"
	"errors"
	"image"
	"image/color"
	"image/draw"
	"math/rand/v2"
	"testing"

	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/twin"
)

// scribble draws boxes and noise in colours that RGB565 has.
func scribble(r *rand.Rand, on *image.RGBA) {
	ink := func() color.RGBA {
		five := func(v int) uint8 { return uint8(v<<3 | v>>2) }
		green := r.IntN(64)
		return color.RGBA{five(r.IntN(32)), uint8(green<<2 | green>>4), five(r.IntN(32)), 255}
	}
	for range 12 {
		x, y := r.IntN(320), r.IntN(240)
		draw.Draw(on, image.Rect(x, y, x+1+r.IntN(300), y+1+r.IntN(30)), image.NewUniform(ink()), image.Point{}, draw.Src)
	}
	for range 400 {
		on.SetRGBA(r.IntN(320), r.IntN(240), ink())
	}
}

// TestShow: a picture that the host has the device show is what it shows, the changes alone are sent, and the
// user interface comes back as it was.
func TestShow(t *testing.T) {
	ctx := context.Background()
	c, line := fernhouse(t)
	before, err := c.Look(ctx, settled)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(7, 7))
	m := image.NewRGBA(image.Rect(0, 0, 320, 240))
	draw.Draw(m, m.Rect, image.Black, image.Point{}, draw.Src)
	var was image.Image
	for i := range 4 {
		scribble(r, m)
		line.bytes = 0
		if err := c.Show(ctx, m, was); err != nil {
			t.Fatal(err)
		}
		t.Logf("picture %d: %d bytes", i+1, line.bytes)
		shot, err := c.Look(ctx, link.LookOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if got := shot.Frame.RGBA(); !bytes.Equal(got.Pix, m.Pix) {
			for k := range m.Pix {
				if got.Pix[k] != m.Pix[k] {
					t.Fatalf("picture %d at %d,%d: got %v, want %v", i+1, k/4%320, k/4/320, got.Pix[k&^3:k&^3+4], m.Pix[k&^3:k&^3+4])
				}
			}
		}
		tw := line.Stream.(*twin.Twin)
		at, err := tw.Call("fascia_twin_panel")
		if err != nil {
			t.Fatal(err)
		}
		if pix, err := tw.Read(uint32(at), uint32(len(shot.Frame.Pix))); err != nil || !bytes.Equal(pix, shot.Frame.Pix) {
			t.Errorf("picture %d: what a camera would see is another: %v", i+1, err)
		}
		copied := *m
		copied.Pix = bytes.Clone(m.Pix)
		was = &copied
	}
	line.bytes = 0
	if err := c.Show(ctx, m, was); err != nil || line.bytes != 0 {
		t.Errorf("the same picture again costs %d bytes, %v", line.bytes, err)
	}
	if err := c.Pattern(ctx); err != nil {
		t.Fatal(err)
	}
	after, err := c.Look(ctx, settled)
	if err != nil {
		t.Fatal(err)
	}
	if after.Hash != before.Hash {
		t.Error("the user interface did not come back as it was")
	}
	if err := c.Show(ctx, image.NewRGBA(image.Rect(0, 0, 10, 10)), nil); err == nil {
		t.Error("a picture of another size is shown")
	}
}

// TestPatterns holds the numbered patterns against PROTOCOL.md's words.
func TestPatterns(t *testing.T) {
	ctx := context.Background()
	c, _ := fernhouse(t)
	grey := func(on bool) color.RGBA {
		if on {
			return color.RGBA{255, 255, 255, 255}
		}
		return color.RGBA{0, 0, 0, 255}
	}
	for _, tt := range []struct {
		name string
		args []byte
		want func(x, y int) color.RGBA
	}{
		{"solid", []byte{1, 255, 0, 255}, func(int, int) color.RGBA { return color.RGBA{255, 0, 255, 255} }},
		{"frame", []byte{2}, func(x, y int) color.RGBA { return grey(x == 0 || y == 0 || x == 319 || y == 239) }},
		{"checker", []byte{3, 5}, func(x, y int) color.RGBA { return grey((x/5+y/5)%2 == 0) }},
		{"stripes", []byte{4, 0, 3, 0}, func(x, _ int) color.RGBA { return grey((x^x>>1)>>3&1 == 1) }},
		{"stripes of y, inverted", []byte{4, 1, 2, 1}, func(_, y int) color.RGBA { return grey((y^y>>1)>>2&1 == 0) }},
		{"dots", []byte{6, 8}, func(x, y int) color.RGBA { return grey(x%8 == 4 && y%8 == 4) }},
	} {
		if err := c.Pattern(ctx, tt.args...); err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		shot, err := c.Look(ctx, link.LookOptions{})
		if err != nil {
			t.Fatal(err)
		}
		m := shot.Frame.RGBA()
	pixels:
		for y := range 240 {
			for x := range 320 {
				if got, want := m.RGBAAt(x, y), tt.want(x, y); got != want {
					t.Errorf("%s at %d,%d: got %v, want %v", tt.name, x, y, got, want)
					break pixels
				}
			}
		}
	}
	if err := c.Pattern(ctx, 5); err != nil {
		t.Fatal(err)
	}
	shot, err := c.Look(ctx, link.LookOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for x, last := 0, uint8(0); x < 320; x++ {
		now := shot.Frame.RGBA().RGBAAt(x, 9).G
		if now < last || x == 319 && now != 255 {
			t.Errorf("the ramp falls at %d: %d after %d", x, now, last)
		}
		last = now
	}
	for _, bad := range [][]byte{{0}, {8}, {3}, {3, 0}, {1, 2}, {4, 0, 16, 0}, {7, 0, 0, 0, 0, 1}, {7, 250, 0, 0, 0, 1, 71, 1, 2, 3}, {7, 0, 0, 240, 0, 1, 1, 1, 2, 3}, {7, 0, 0, 0, 0, 1, 1, 2, 3}} {
		if err := c.Pattern(ctx, bad...); !errors.Is(err, link.ErrBadValue) {
			t.Errorf("pattern %v: %v", bad, err)
		}
	}
}
