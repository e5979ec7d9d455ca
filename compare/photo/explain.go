package photo

import (
	"fmt"
	"image"
	"math"
	"sort"

	"github.com/fascia-bench/fascia/compare"
)

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
