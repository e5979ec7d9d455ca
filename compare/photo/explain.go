package photo

import (
	"fmt"
	"image"
	"math"
	"sort"

	"github.com/fascia-bench/fascia/capture/rectify"
	"github.com/fascia-bench/fascia/compare"
)

// marks says which pixels are part of what differs: those of small windows above a limit, or, where
// only a large window saw something, that window.
func (o *Optics) marks(sum *sums, s *screen, at image.Rectangle, chance float64) []bool {
	mask := make([]bool, s.w*s.h)
	limit := o.Tail.limit(max(chance, 0.001))
	some := false
	var all []scored
	for i := range o.Windows {
		win := &o.Windows[i]
		if win.W > 5 || win.H > 5 {
			continue
		}
		all = sum.scores(win, all)
		for _, q := range all {
			if win.rank(float64(q.score)) > limit {
				mask[(int(q.y)+win.H/2)*s.w+int(q.x)+win.W/2] = true
				some = true
			}
		}
	}
	if !some {
		for y := at.Min.Y; y < at.Max.Y; y++ {
			for x := at.Min.X; x < at.Max.X; x++ {
				mask[y*s.w+x] = true
			}
		}
	}
	return mask
}

// boxes joins marked pixels up to 5 px apart and returns the boxes in reading order.
func boxes(mask []bool, w, h int) (out []image.Rectangle) {
	const reach = 5
	label := make([]bool, len(mask))
	for k := range mask {
		if !mask[k] || label[k] {
			continue
		}
		box := image.Rect(k%w, k/w, k%w+1, k/w+1)
		stack := []int{k}
		label[k] = true
		for len(stack) > 0 {
			q := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			x, y := q%w, q/w
			box = box.Union(image.Rect(x, y, x+1, y+1))
			for j := max(0, y-reach); j <= min(h-1, y+reach); j++ {
				for i := max(0, x-reach); i <= min(w-1, x+reach); i++ {
					if n := j*w + i; mask[n] && !label[n] {
						label[n] = true
						stack = append(stack, n)
					}
				}
			}
		}
		out = append(out, box)
	}
	sort.Slice(out, func(i, j int) bool {
		if out[i].Min.Y != out[j].Min.Y {
			return out[i].Min.Y < out[j].Min.Y
		}
		return out[i].Min.X < out[j].Min.X
	})
	return out
}

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

// explain fills causes and regions.
func (o *Optics) explain(r *Result, v *sight, s *screen, mask []bool) {
	for _, b := range boxes(mask, s.w, s.h) {
		n := 0
		for y := b.Min.Y; y < b.Max.Y; y++ {
			for x := b.Min.X; x < b.Max.X; x++ {
				if mask[y*s.w+x] {
					n++
				}
			}
		}
		r.Changed += n
		r.Regions = append(r.Regions, o.region(v, s, b))
	}
	seen := map[string]bool{}
	sizes := append([]compare.Region(nil), r.Regions...)
	sort.SliceStable(sizes, func(i, j int) bool { return sizes[i].W*sizes[i].H > sizes[j].W*sizes[j].H })
	for _, g := range sizes {
		if !seen[g.Cause] {
			seen[g.Cause] = true
			r.Causes = append(r.Causes, compare.Cause{Cause: g.Cause, Confidence: g.Confidence, Detail: g.Detail, Says: g.Says})
		}
	}
}

// region names what happened in a box. Photos tell less than dumps: confidences are lower, and "other" is
// said sooner.
func (o *Optics) region(v *sight, s *screen, b image.Rectangle) compare.Region {
	out := compare.Region{X: b.Min.X, Y: b.Min.Y, W: b.Dx(), H: b.Dy(), Cause: "other", Confidence: 0.5, Detail: compare.Detail{}}
	where := fmt.Sprintf("%dx%d at %d,%d", b.Dx(), b.Dy(), b.Min.X, b.Min.Y)
	around := b.Inset(-3).Intersect(image.Rect(0, 0, s.w, s.h))
	// Marks end where what is left over ends: beyond them other content would only add its own errors.
	dx, dy, moved := o.shifted(v, s, b)
	slope, share, content := o.likeness(v, s, b)
	fresh := o.freshness(v, s, around)
	switch {
	case share > 0.6 && slope < -0.6 && slope > -1.4:
		out.Cause, out.Confidence = "missing", 0.7
		out.Says = where + " is gone"
	case moved < 0.4:
		out.Cause, out.Confidence, out.Detail = "moved", 0.8, compare.Detail{"dx": dx, "dy": dy}
		out.Says = fmt.Sprintf("%s has moved by %d,%d px", where, dx, dy)
	case !content && fresh > 2:
		out.Cause, out.Confidence = "added", 0.7
		out.Says = where + " is new"
	case fresh < 1.5:
		from, to := o.colours(v, b)
		out.Cause, out.Confidence, out.Detail = "recoloured", 0.6, compare.Detail{"from": from, "to": to}
		out.Says = fmt.Sprintf("%s has another colour: %s instead of %s", where, to, from)
	case b.Dy() <= 28 && content:
		out.Cause, out.Confidence = "text", 0.6
		out.Says = where + " holds other glyphs"
	default:
		out.Says = where + " differs"
	}
	return out
}

// soft is the golden's light as a lens shows it, about: a mean over 3x3 pixels, the middle counted most. It has no
// moiré in it, which does not move along with content.
func soft(s *screen, c, x, y int) float64 {
	k, l := s.at(x, y), s.light[c]
	up, down := k-s.stride, k+s.stride
	return float64(l[up-1]+l[up+1]+l[down-1]+l[down+1]+2*(l[up]+l[down]+l[k-1]+l[k+1])+4*l[k]) / 16
}

// farthest is by how much content is tried to have moved, in panel pixels.
const farthest = 6

// shifted finds the movement of the golden's content that explains best what is left over in a box, and
// the share of its energy that is left then.
func (o *Optics) shifted(v *sight, s *screen, b image.Rectangle) (bx, by int, least float64) {
	least = math.Inf(1)
	step := max(1, b.Dx()*b.Dy()/3000)
	var light [3][]float64
	for c := range light {
		light[c] = make([]float64, s.w*s.h)
		wide := b.Inset(-farthest).Intersect(image.Rect(0, 0, s.w, s.h))
		for y := wide.Min.Y; y < wide.Max.Y; y++ {
			for x := wide.Min.X; x < wide.Max.X; x++ {
				light[c][y*s.w+x] = soft(s, c, x, y)
			}
		}
	}
	for dy := -farthest; dy <= farthest; dy++ {
		for dx := -farthest; dx <= farthest; dx++ {
			if dx == 0 && dy == 0 {
				continue
			}
			var e, all float64
			i := 0
			for y := b.Min.Y; y < b.Max.Y; y++ {
				for x := b.Min.X; x < b.Max.X; x++ {
					if i++; i%step != 0 {
						continue
					}
					k, f := y*s.w+x, min(max(y-dy, 0), s.h-1)*s.w+min(max(x-dx, 0), s.w-1)
					for c := range 3 {
						l := float64(v.left[c][k])
						d := l - (light[c][f] - light[c][k])
						e, all = e+d*d, all+l*l
					}
				}
			}
			if e /= max(all, 1e-12); e < least {
				least, bx, by = e, dx, dy
			}
		}
	}
	return bx, by, least
}

// likeness lays a line through what is left over in a box against the golden's light: its slope, which is -1 where
// content is gone, the share of energy it explains, and whether the golden has content there at all.
func (o *Optics) likeness(v *sight, s *screen, b image.Rectangle) (slope, share float64, content bool) {
	var sll, slr, srr, n float64
	for c := range 3 {
		var l1, r1, l2, r2, lr float64
		m := float64(b.Dx() * b.Dy())
		for y := b.Min.Y; y < b.Max.Y; y++ {
			for x := b.Min.X; x < b.Max.X; x++ {
				l, r := soft(s, c, x, y), float64(v.left[c][y*s.w+x])
				l1, r1, l2, r2, lr = l1+l/m, r1+r/m, l2+l*l/m, r2+r*r/m, lr+l*r/m
			}
		}
		sll, slr, srr, n = sll+l2-l1*l1, slr+lr-l1*r1, srr+r2-r1*r1, n+1
	}
	if sll < 3e-4*n {
		return 0, 0, false
	}
	return slr / sll, slr * slr / max(sll*srr, 1e-12), true
}

// freshness is how much what is left over in a box varies, against its mean and noise: above one, something with
// edges of its own has come or gone.
func (o *Optics) freshness(v *sight, s *screen, b image.Rectangle) float64 {
	var vary, even float64
	for c := range 3 {
		var r1, r2, noise float64
		m := float64(b.Dx() * b.Dy())
		for y := b.Min.Y; y < b.Max.Y; y++ {
			for x := b.Min.X; x < b.Max.X; x++ {
				k := y*s.w + x
				r := float64(v.left[c][k])
				r1, r2, noise = r1+r/m, r2+r*r/m, noise+float64(v.noise[c][k])/m
			}
		}
		vary, even = vary+max(0, r2-r1*r1-noise), even+r1*r1+noise
	}
	return vary / max(even, 1e-12)
}

// colours gives the mean colour that was meant and that is seen in a box, in panel codes.
func (o *Optics) colours(v *sight, b image.Rectangle) (from, to string) {
	var want, seen [3]float64
	n := float64(b.Dx() * b.Dy())
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			k := y*v.seen.Width + x
			for c := range 3 {
				p := float64(v.want[c][k] - o.Dark[c][k]/o.Flat[c][k])
				want[c] += p / n
				seen[c] += (p + float64(v.left[c][k])) / n
			}
		}
	}
	hex := func(l [3]float64) string {
		var code [3]int
		for c := range code {
			var p float64
			for d := range l {
				p += o.Colour[c][d] * l[d]
			}
			for code[c] < 255 && float64(o.Tones[c][code[c]]+o.Tones[c][code[c]+1])/2 < p {
				code[c]++
			}
		}
		return fmt.Sprintf("#%02x%02x%02x", code[0], code[1], code[2])
	}
	return hex(want), hex(seen)
}
