package report

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/gif"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/suites/record"
)

// played decodes a film into whole frames.
func played(t *testing.T, film []byte) (frames []*image.RGBA, delays []int) {
	t.Helper()
	g, err := gif.DecodeAll(bytes.NewReader(film))
	if err != nil {
		t.Fatal(err)
	}
	if g.LoopCount != 0 {
		t.Errorf("the film plays %d times, want for ever", g.LoopCount)
	}
	now := image.NewRGBA(image.Rect(0, 0, g.Config.Width, g.Config.Height))
	for i, m := range g.Image {
		draw.Draw(now, m.Rect, m, m.Rect.Min, draw.Over)
		frame := image.NewRGBA(now.Rect)
		copy(frame.Pix, now.Pix)
		frames, delays = append(frames, frame), append(delays, g.Delay[i])
	}
	return frames, delays
}

func TestFilm(t *testing.T) {
	f := mixed(t)
	film, err := Film(f.dir, f.run, "home")
	if err != nil {
		t.Fatal(err)
	}
	frames, delays := played(t, film)
	const k = 4 // 64 px fit into 640 ten times; four is the most
	for n, want := range []image.Image{panelOf(64, 48, 0), panelOf(64, 48, 1), panelOf(64, 48, 2)} {
		shown := 0
		for i, m := range frames {
			if len(find(m.SubImage(image.Rect(filmMargin, filmMargin, filmMargin+64*k, filmMargin+48*k)), want, k)) == 1 {
				shown += delays[i]
			}
		}
		if shown < lookFor {
			t.Errorf("look %d is shown crisp and whole for %d/100 s, want at least %d", n+1, shown, lookFor)
		}
	}
	// The finger of the drag is seen at both of its ends, over the picture before.
	for _, at := range [][2]int{{32, 2}, {32, 40}} {
		x, y := filmMargin+at[0]*k+k/2, filmMargin+at[1]*k+k/2
		seen := false
		for _, m := range frames {
			seen = seen || m.RGBAAt(x, y) == color.RGBA(touched)
		}
		if !seen {
			t.Errorf("no frame has a finger at %v", at)
		}
	}
}

// A GIF holds 256 colours; a frame of more is brought near, not refused, and one of fewer is exact.
func TestFilmColours(t *testing.T) {
	for _, n := range []int{256, 257, 5000} {
		m := image.NewRGBA(image.Rect(3, 5, 103, 55))
		for i := range 100 * 50 {
			c := i % n
			m.SetRGBA(3+i%100, 5+i/100, color.RGBA{uint8(c), uint8(c >> 5), uint8(c >> 8), 0xff})
		}
		p := paletted(m)
		far := 0
		for y := 5; y < 55; y++ {
			for x := 3; x < 103; x++ {
				a, b := m.RGBAAt(x, y), color.RGBAModel.Convert(p.At(x, y)).(color.RGBA)
				d := func(a, b uint8) int { return max(int(a)-int(b), int(b)-int(a)) }
				far = max(far, d(a.R, b.R), d(a.G, b.G), d(a.B, b.B))
			}
		}
		switch {
		case len(p.Palette) > 256 || p.Rect != m.Rect:
			t.Errorf("%d colours: palette of %d, box %v", n, len(p.Palette), p.Rect)
		case n <= 256 && far > 0, far > 32:
			t.Errorf("%d colours: a pixel is off by %d", n, far)
		}
	}
}

func TestFilmRefuses(t *testing.T) {
	f := mixed(t)
	f.run.Walks = append(f.run.Walks, record.Walk{Walk: "empty"})
	for walk, want := range map[string]string{"nowhere": "no such walk", "empty": "no look"} {
		if _, err := Film(f.dir, f.run, walk); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("film of %q: %v, want %q", walk, err, want)
		}
	}
}
