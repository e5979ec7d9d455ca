package pairs

import "image"

// TrueRegions walks from changed pixel to changed pixel in steps of at most 5 px along
// both axes and gives the tight box of each walk. Pictures of different sizes have none.
func TrueRegions(a, b *image.RGBA) []image.Rectangle {
	if a.Rect.Size() != b.Rect.Size() {
		return nil
	}
	w, h := a.Rect.Dx(), a.Rect.Dy()
	open := make([]bool, w*h)
	for i := range open {
		pa, pb := a.Pix[4*i:4*i+3], b.Pix[4*i:4*i+3]
		open[i] = pa[0] != pb[0] || pa[1] != pb[1] || pa[2] != pb[2]
	}
	// next[i] leads to the first pixel at or after i that is still open; following it
	// leaves the way shorter behind.
	next := make([]int32, w*h+1)
	for i := range next {
		next[i] = int32(i)
		if i < w*h && !open[i] {
			next[i] = int32(i + 1)
		}
	}
	find := func(i int32) int32 {
		for next[i] != i {
			next[i] = next[next[i]]
			i = next[i]
		}
		return i
	}
	var out []image.Rectangle
	for {
		first := find(0)
		if int(first) == w*h {
			return out
		}
		next[first] = first + 1
		todo := []int32{first}
		x0, y0, x1, y1 := w, h, 0, 0
		for len(todo) > 0 {
			x, y := int(todo[len(todo)-1])%w, int(todo[len(todo)-1])/w
			todo = todo[:len(todo)-1]
			x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x+1), max(y1, y+1)
			for ny := max(0, y-5); ny <= min(h-1, y+5); ny++ {
				for k := find(int32(ny*w + max(0, x-5))); int(k) <= ny*w+min(w-1, x+5); k = find(k) {
					next[k] = k + 1
					todo = append(todo, k)
				}
			}
		}
		out = append(out, image.Rect(x0, y0, x1, y1))
	}
}
