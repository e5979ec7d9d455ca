package photo

import (
	"fmt"
	"image"
	"math"
	"sort"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// obstacle tells light on the pane and things before the panel from content. Content has sharp
// edges; a reflection has none, and adds light in every channel; a hand is out of focus and takes light away.
func (o *Optics) obstacle(v *sight, mask []bool, s *screen, p *rectify.Photo) error {
	n := 0
	box := image.Rectangle{}
	for k, m := range mask {
		if m {
			n++
			box = box.Union(image.Rect(k%s.w, k/s.w, k%s.w+1, k/s.w+1))
		}
	}
	if n*60 < s.w*s.h || min(box.Dx(), box.Dy()) < 12 {
		return nil
	}
	w := s.w
	// Means over 3x3 pixels, and how much they change over 4.
	at := func(c, x, y int) float64 {
		var t float32
		for j := -1; j <= 1; j++ {
			for i := -1; i <= 1; i++ {
				t += v.left[c][(y+j)*w+x+i]
			}
		}
		return float64(t) / 9
	}
	var steps, size []float64
	up, down, all := 0, 0, 0
	r := box.Inset(-4).Intersect(image.Rect(2, 2, s.w-6, s.h-6))
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			e := at(1, x, y)
			steps = append(steps, math.Abs(at(1, x+4, y)-e), math.Abs(at(1, x, y+4)-e))
			size = append(size, math.Abs(e))
			if mask[y*w+x] {
				all++
				a, b := at(0, x, y), at(2, x, y)
				if e > 0 && a > 0 && b > 0 {
					up++
				}
				if e < 0 && a < 0 && b < 0 {
					down++
				}
			}
		}
	}
	if all == 0 || len(steps) < 100 {
		return nil
	}
	sort.Float64s(steps)
	sort.Float64s(size)
	peak := size[len(size)*99/100]
	sharp := steps[len(steps)*99/100] / max(peak, 1e-6)
	where := fmt.Sprintf("%d,%d to %d,%d", box.Min.X, box.Min.Y, box.Max.X-1, box.Max.Y-1)
	if sharp < 0.5 && up*10 > all*9 {
		return noCapture("light falls on the pane at %s: there is more light than the screen gives, without any edge; shade the panel", where)
	}
	edge := box.Min.X <= 3 || box.Min.Y <= 3 || box.Max.X >= s.w-3 || box.Max.Y >= s.h-3
	round := float64(n) < 0.93*float64(box.Dx()*box.Dy())
	if down*10 > all*7 && round && (sharp < 0.75 || edge) && o.covered(v, mask, s) {
		return noCapture("something stands before the panel at %s: the screen's content is hidden there by a thing without edges of its own", where)
	}
	return nil
}

// covered reports whether the marked area shows nothing of the golden's detail, and is darker than any
// content the golden has there.
func (o *Optics) covered(v *sight, mask []bool, s *screen) bool {
	var seen, want []float64
	for k, m := range mask {
		if m {
			seen = append(seen, float64(v.want[1][k]+v.left[1][k]))
			want = append(want, float64(v.want[1][k]))
		}
	}
	sort.Float64s(seen)
	sort.Float64s(want)
	spread := seen[len(seen)*7/10] - seen[len(seen)/10] // the rim of what is out of focus is neither
	return spread < 0.25 && seen[len(seen)/2] < 0.7*want[len(want)/2]
}
