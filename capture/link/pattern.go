package link

import (
	"context"
	"fmt"
	"image"
	"image/color"
	"time"
)

// patternPaint is the pattern that paints runs of colour onto what is shown.
const patternPaint = 7

// Show has the device show a picture of the panel's size in place of its user interface, until Hide brings that
// back. was is the picture that is shown already, of which only what is changed is sent;
// nil for the first. A device that has no patterns gives ErrUnsupported, one that cannot paint ErrBadValue.
func (c *Conn) Show(ctx context.Context, m, was image.Image) error {
	b := m.Bounds()
	if b.Dx() != c.hello.Width || b.Dy() != c.hello.Height {
		return fmt.Errorf("the picture to show is %dx%d, the panel %dx%d", b.Dx(), b.Dy(), c.hello.Width, c.hello.Height)
	}
	most := (c.hello.MaxRequest - 2 - 6) / 4
	for _, s := range strips(pixels(m), pixels(was), b.Dx()) {
		for x := s.x; len(s.runs) > 0; {
			n := min(most, len(s.runs))
			args := []byte{patternPaint, byte(x), byte(x >> 8), byte(s.y), byte(s.y >> 8), byte(s.rows)}
			for _, r := range s.runs[:n] {
				args = append(args, r.n, r.c.R, r.c.G, r.c.B)
				x += int(r.n)
			}
			if err := c.Pattern(ctx, args...); err != nil {
				return err
			}
			s.runs = s.runs[n:]
		}
	}
	return nil
}

// Hide brings the user interface back after Show or Pattern, also where ctx is done by then: the device has half a second for that.
func (c *Conn) Hide(ctx context.Context) error {
	if ctx.Err() != nil {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(context.WithoutCancel(ctx), 500*time.Millisecond)
		defer cancel()
	}
	return c.Pattern(ctx)
}

// A strip is rows that are painted alike from x on.
type strip struct {
	x, y, rows int
	runs       []run
}

type run struct {
	n byte
	c color.RGBA
}

func pixels(m image.Image) []color.RGBA {
	if m == nil {
		return nil
	}
	b := m.Bounds()
	out := make([]color.RGBA, 0, b.Dx()*b.Dy())
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			c := color.RGBAModel.Convert(m.At(x, y)).(color.RGBA)
			c.A = 255
			out = append(out, c)
		}
	}
	return out
}

// strips cuts what is to be painted into rows that are alike. Lines, boxes and bars repeat from row to
// row; that halves the bytes and more.
func strips(m, was []color.RGBA, width int) (out []strip) {
	for y := 0; y*width < len(m); y++ {
		row := m[y*width : (y+1)*width]
		from, to := 0, width
		if was != nil {
			old := was[y*width : (y+1)*width]
			for from < width && row[from] == old[from] {
				from++
			}
			for to > from && row[to-1] == old[to-1] {
				to--
			}
		}
		if from == to {
			continue
		}
		s := strip{x: from, y: y, rows: 1}
		for x := from; x < to; {
			n := 1
			for x+n < to && n < 255 && row[x+n] == row[x] {
				n++
			}
			s.runs = append(s.runs, run{byte(n), row[x]})
			x += n
		}
		if k := len(out) - 1; k >= 0 && out[k].y+out[k].rows == y && out[k].rows < 255 && out[k].sameRuns(s) {
			out[k].rows++
			continue
		}
		out = append(out, s)
	}
	return out
}

func (s strip) sameRuns(t strip) bool {
	if s.x != t.x || len(s.runs) != len(t.runs) {
		return false
	}
	for i := range s.runs {
		if s.runs[i] != t.runs[i] {
			return false
		}
	}
	return true
}
