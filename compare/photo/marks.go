package photo

import (
	"image"
	"sort"
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
