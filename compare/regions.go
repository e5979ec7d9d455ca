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

// run is a stretch of a row whose changed pixels are at most joinDistance apart.
type run struct {
	y, from, to int32 // from the first to past the last changed pixel
}

// components groups the marked pixels of a w x h mask, in reading order of their first
// pixels, and labels each marked pixel with its component's index, others with -1.
//
// Pixels at most 5 px apart along both axes are joined: first into runs within a row, then
// runs of rows up to 5 apart whose ends come that near.
func components(mask []bool, w, h int) (comps []component, label []int32) {
	runs, first := runsOf(mask, w, h)
	uf := make(unionFind, len(runs))
	for i := range uf {
		uf[i] = int32(i)
	}
	for y := range h {
		for d := 1; d <= min(joinDistance, y); d++ {
			joinRows(uf, runs, first[y-d], first[y-d+1], first[y], first[y+1])
		}
	}
	label = make([]int32, len(mask))
	for i := range label {
		label[i] = -1
	}
	index := make([]int32, len(runs)) // of the component, plus one
	for i, r := range runs {
		root := uf.find(int32(i))
		if index[root] == 0 {
			comps = append(comps, component{box: image.Rect(int(r.from), int(r.y), int(r.to), int(r.y)+1)})
			index[root] = int32(len(comps))
		}
		k := index[root] - 1
		c := &comps[k]
		c.box.Min.X, c.box.Max.X = min(c.box.Min.X, int(r.from)), max(c.box.Max.X, int(r.to))
		c.box.Max.Y = int(r.y) + 1
		for x := int(r.y)*w + int(r.from); x < int(r.y)*w+int(r.to); x++ {
			if mask[x] {
				label[x] = k
				c.pixels++
			}
		}
	}
	return comps, label
}

// runsOf lists the runs row by row; those of row y are runs[first[y]:first[y+1]].
func runsOf(mask []bool, w, h int) (runs []run, first []int) {
	first = make([]int, h+1)
	for y := range h {
		first[y] = len(runs)
		last := -1 - joinDistance
		for x, m := range mask[y*w : (y+1)*w] {
			if !m {
				continue
			}
			if x-last > joinDistance {
				runs = append(runs, run{y: int32(y), from: int32(x)})
			}
			last = x
			runs[len(runs)-1].to = int32(x + 1)
		}
	}
	first[h] = len(runs)
	return runs, first
}

// joinRows joins the runs a0..a1 of one row with those of another, b0..b1, that come near.
func joinRows(uf unionFind, runs []run, a0, a1, b0, b1 int) {
	for a0 < a1 && b0 < b1 {
		a, b := runs[a0], runs[b0]
		// The last pixel of one and the first of the other are at most 5 px apart.
		if a.from-(b.to-1) <= joinDistance && b.from-(a.to-1) <= joinDistance {
			uf.join(int32(a0), int32(b0))
		}
		if a.to < b.to {
			a0++
		} else {
			b0++
		}
	}
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
