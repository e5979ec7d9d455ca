package suites

import (
	"context"
	"fmt"
	"image"

	"github.com/fascia-bench/fascia/capture/link"
)

// tapOn touches something by its name: a touch target that the firmware offers, else an area of the
// walk, looked for by what the last look's golden shows there. What has moved is tapped where it is
// now, and that is told, so that a walk survives the change that it is meant to test. Before the look has
// a golden the area is tapped where it is written.
func (d *driver) tapOn(ctx context.Context, t TapOn) error {
	at, err := d.find(ctx, t.Name)
	if err != nil {
		return err
	}
	d.path[len(d.path)-1].Points = [][2]int{{at.X, at.Y}}
	return d.inputs(ctx, events(Tap{Spot: spot{X: at.X, Y: at.Y}}))
}

func (d *driver) find(ctx context.Context, name string) (image.Point, error) {
	if d.dev.Hello().Has(link.CanList) {
		items, err := d.dev.List(ctx, link.Targets)
		if err != nil {
			return image.Point{}, err
		}
		for _, item := range items {
			var x, y, w, h int
			if item.Name != name {
				continue
			}
			if n, _ := fmt.Sscanf(item.Value, "%d,%d,%d,%d", &x, &y, &w, &h); n != 4 || w <= 0 || h <= 0 {
				return image.Point{}, fmt.Errorf("the device says that %q is at %q: that is no x,y,width,height", name, item.Value)
			}
			return image.Pt(x+w/2, y+h/2), nil
		}
	}
	area, ok := d.areas[name]
	if !ok {
		return image.Point{}, fmt.Errorf("neither the device nor the walk's areas have a %q on this screen", name)
	}
	golden := d.golden(d.seen)
	if d.seen == "" || golden == nil {
		return area.Min.Add(area.Size().Div(2)), nil // there is no picture to look for yet
	}
	shot, err := d.dev.Look(ctx, link.LookOptions{})
	if err != nil {
		return image.Point{}, err
	}
	found, ok := locate(golden, area, shot.Frame.RGBA())
	if !ok {
		return image.Point{}, fmt.Errorf("what the golden of %q shows at %q is nowhere on this screen", d.seen, name)
	}
	if off := found.Sub(area.Min); off != (image.Point{}) {
		d.note(fmt.Sprintf("%q moved by %d,%d since the golden of %q and was tapped where it is now", name, off.X, off.Y, d.seen))
	}
	return found.Add(area.Size().Div(2)), nil
}

// locate finds where a picture shows what golden has in area: the place with the fewest differing
// pixels, nearest first, if at least three quarters of them agree.
func locate(golden image.Image, area image.Rectangle, screen *image.RGBA) (image.Point, bool) {
	area = area.Intersect(image.Rectangle{Max: golden.Bounds().Size()})
	if area.Empty() || area.Dx() > screen.Rect.Dx() || area.Dy() > screen.Rect.Dy() {
		return image.Point{}, false
	}
	origin := golden.Bounds().Min
	crop := make([][3]byte, 0, area.Dx()*area.Dy())
	for y := area.Min.Y; y < area.Max.Y; y++ {
		for x := area.Min.X; x < area.Max.X; x++ {
			r, g, b, _ := golden.At(origin.X+x, origin.Y+y).RGBA()
			crop = append(crop, [3]byte{byte(r >> 8), byte(g >> 8), byte(b >> 8)})
		}
	}
	best, most := image.Point{}, len(crop)/4+1 // how many may differ
	near := func(p image.Point) int { d := p.Sub(area.Min); return d.X*d.X + d.Y*d.Y }
	found := false
	for y := range screen.Rect.Dy() - area.Dy() + 1 {
		for x := range screen.Rect.Dx() - area.Dx() + 1 {
			wrong := mismatch(crop, area.Dx(), screen, x, y, most)
			if wrong < most || found && wrong == most && near(image.Pt(x, y)) < near(best) {
				best, most, found = image.Pt(x, y), wrong, true
			}
		}
	}
	return best, found
}

// mismatch counts the pixels of crop that the screen does not show at x, y, and stops past limit.
func mismatch(crop [][3]byte, width int, screen *image.RGBA, x, y, limit int) int {
	wrong := 0
	for i, c := range crop {
		p := screen.Pix[(y+i/width)*screen.Stride+4*(x+i%width):]
		if p[0] != c[0] || p[1] != c[1] || p[2] != c[2] {
			if wrong++; wrong > limit {
				return wrong
			}
		}
	}
	return wrong
}
