package report

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/gif"
	"os"

	"github.com/soniakeys/quant/median"

	"github.com/fascia-bench/fascia/suites/record"
)

// Film is a walk of a run as an animated GIF: each look as it was captured, and between two looks what was
// done, drawn into the picture before: a finger that touches and drags, keys, the knob. The verdict of a look
// stands below it, with its own mark; what differs is ringed after a moment. It plays for ever.
//
// Colours are exact as long as a frame has no more than the 256 that a GIF holds; beyond, they are the nearest
// of 256 chosen by median cut.
func Film(runDir string, run *record.Run, walk string) ([]byte, error) {
	root, err := os.OpenRoot(runDir)
	if err != nil {
		return nil, fmt.Errorf("make film of walk %q: %w", walk, err)
	}
	defer root.Close()
	w, err := filmed(runDir, run, walk)
	if err != nil {
		return nil, fmt.Errorf("make film of walk %q: %w", walk, err)
	}
	paintLock.Lock()
	defer paintLock.Unlock()
	var r gifReel
	newProjector(root, run, w, r.add).play()
	var out bytes.Buffer
	if err := gif.EncodeAll(&out, &r.GIF); err != nil {
		return nil, fmt.Errorf("make film of walk %q: %w", walk, err)
	}
	return out.Bytes(), nil
}

// filmed finds a walk that can be shown as one picture or film.
func filmed(runDir string, run *record.Run, walk string) (*walkOf, error) {
	for _, w := range walksOf(run) {
		switch {
		case w.Walk.Walk != walk:
			continue
		case len(w.looks) == 0:
			return nil, fmt.Errorf("it has no look in the run in %q", runDir)
		case len(w.looks) > trailMost:
			return nil, fmt.Errorf("%d looks are too many for one picture, which holds %d", len(w.looks), trailMost)
		}
		return w, nil
	}
	return nil, fmt.Errorf("the run in %q has no such walk", runDir)
}

// A gifReel collects frames: of each only the box that differs from the frame before.
type gifReel struct {
	gif.GIF
	last *image.RGBA
}

// add adds a frame that is shown for so many hundredths of a second.
func (r *gifReel) add(c canvas, hundredths int) {
	box := c.Rect
	if r.last == nil {
		r.Config = image.Config{Width: c.Rect.Dx(), Height: c.Rect.Dy()}
	} else if box = changed(r.last, c.RGBA); box.Empty() {
		r.Delay[len(r.Delay)-1] += hundredths
		return
	}
	r.Image = append(r.Image, paletted(c.SubImage(box).(*image.RGBA)))
	r.Delay = append(r.Delay, hundredths)
	r.Disposal = append(r.Disposal, gif.DisposalNone)
	r.last = c.RGBA
}

// changed is the smallest box that holds all pixels in which two pictures of one size differ.
func changed(a, b *image.RGBA) image.Rectangle {
	box := image.Rectangle{Min: b.Rect.Max, Max: b.Rect.Min}
	for y := b.Rect.Min.Y; y < b.Rect.Max.Y; y++ {
		i, j := a.PixOffset(a.Rect.Min.X, y), b.PixOffset(b.Rect.Min.X, y)
		ra, rb := a.Pix[i:i+4*a.Rect.Dx()], b.Pix[j:j+4*b.Rect.Dx()]
		if bytes.Equal(ra, rb) {
			continue
		}
		box.Min.Y, box.Max.Y = min(box.Min.Y, y), y+1
		for x := 0; x < len(rb); x += 4 {
			if !bytes.Equal(ra[x:x+4], rb[x:x+4]) {
				box.Min.X, box.Max.X = min(box.Min.X, b.Rect.Min.X+x/4), max(box.Max.X, b.Rect.Min.X+x/4+1)
			}
		}
	}
	return box
}

// paletted gives each colour of a picture its place in a palette, or the nearest of 256 where there are more.
func paletted(m *image.RGBA) *image.Paletted {
	out := image.NewPaletted(m.Rect, nil)
	place := map[color.RGBA]uint8{}
	for y := m.Rect.Min.Y; y < m.Rect.Max.Y; y++ {
		for x := m.Rect.Min.X; x < m.Rect.Max.X; x++ {
			c := m.RGBAAt(x, y)
			i, ok := place[c]
			if !ok {
				if len(place) == 256 {
					return median.Quantizer(256).Paletted(m)
				}
				i = uint8(len(place))
				place[c] = i
				out.Palette = append(out.Palette, c)
			}
			out.Pix[out.PixOffset(x, y)] = i
		}
	}
	return out
}
