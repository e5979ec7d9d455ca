package compare

import "image"

// joinDistance is the largest distance, along both axes, at which two changed pixels
// still share a region (DESIGN.md).
const joinDistance = 5

// component is a group of changed pixels that share a region.
type component struct {
	box    image.Rectangle // tight
	pixels int
}

// components groups the marked pixels of a w x h mask, in reading order of the boxes'
// top left corners, and labels each marked pixel with its component's index.
//
// Growing every pixel to a 5x5 square to its lower right makes two squares touch or
// overlap, corners included, exactly when the pixels are at most 5 px apart along both
// axes. So an 8-connected labelling of the grown mask is the wanted grouping.
func components(mask []bool, w, h int) (comps []component, label []int32) {
	grown := grow(mask, w, h, joinDistance)
	uf, runOf := labelRuns(grown, w, h)
	label = make([]int32, len(mask))
	index := map[int32]int32{}
	for i, m := range mask {
		if !m {
			label[i] = -1
			continue
		}
		root := uf.find(runOf[i])
		k, ok := index[root]
		x, y := i%w, i/w
		if !ok {
			k = int32(len(comps))
			index[root] = k
			comps = append(comps, component{})
		}
		label[i] = k
		c := &comps[k]
		c.pixels++
		c.box = c.box.Union(image.Rect(x, y, x+1, y+1))
	}
	return comps, label
}

// grow marks, for every marked pixel, the n x n square whose top left it is.
func grow(mask []bool, w, h, n int) []bool {
	out := make([]bool, len(mask))
	for y := range h {
		in, row := mask[y*w:(y+1)*w], out[y*w:(y+1)*w]
		left := 0
		for x, m := range in {
			if m {
				left = n
			}
			if left > 0 {
				row[x] = true
				left--
			}
		}
	}
	left := make([]int, w)
	for y := range h {
		row := out[y*w : (y+1)*w]
		for x, m := range row {
			if m {
				left[x] = n
			}
			if left[x] > 0 {
				row[x] = true
				left[x]--
			}
		}
	}
	return out
}

type unionFind []int32

func (u unionFind) find(a int32) int32 {
	for u[a] != a {
		u[a] = u[u[a]]
		a = u[a]
	}
	return a
}

func (u unionFind) join(a, b int32) {
	a, b = u.find(a), u.find(b)
	if a < b {
		u[b] = a
	} else {
		u[a] = b
	}
}

// labelRuns gives every marked pixel the number of its horizontal run and joins runs
// that touch the row above, diagonals included.
func labelRuns(mask []bool, w, h int) (unionFind, []int32) {
	var uf unionFind
	runOf := make([]int32, len(mask))
	for y := range h {
		for x := 0; x < w; x++ {
			i := y*w + x
			if !mask[i] {
				continue
			}
			if x == 0 || !mask[i-1] {
				uf = append(uf, int32(len(uf)))
			}
			id := int32(len(uf) - 1)
			runOf[i] = id
			if y == 0 {
				continue
			}
			for dx := -1; dx <= 1; dx++ {
				if nx := x + dx; nx >= 0 && nx < w && mask[i-w+dx] {
					uf.join(id, runOf[i-w+dx])
				}
			}
		}
	}
	return uf, runOf
}
