package handbook

import (
	"cmp"
	"slices"
)

// A box is a screen's place on the map, or a bend of a line that passes a column.
type box struct {
	s        *Screen // nil for a bend
	col      int
	x, y     float64
	w, h     float64
	in, out  []*box // neighbours one column to the left and to the right
	position float64
}

// A course is how one or both ways between two screens run: through its boxes, left to right.
type course struct {
	boxes      []*box
	there      []*Way // left to right
	back       []*Way
	loopsAside bool // both ends stand in one column
}

// Sizes of the map, px.
const (
	boxWide   = 116
	colGap    = 92
	rowGap    = 22
	bendHigh  = 10
	mapMargin = 16
	nameHigh  = 34
)

// layout places the screens in columns by how far they are from power-on, and in each column so that lines
// cross little: the layered drawing of K. Sugiyama, S. Tagawa and M. Toda, "Methods for Visual
// Understanding of Hierarchical System Structures", IEEE Transactions on Systems, Man, and Cybernetics 11
// (1981), with the barycentre heuristic for the order.
func (b *Book) layout(thumbHigh float64) (boxes []*box, courses []*course, wide, high float64) {
	depth := b.depths()
	var cols [][]*box
	place := func(x *box, col int) *box {
		for len(cols) <= col {
			cols = append(cols, nil)
		}
		x.col = col
		cols[col] = append(cols[col], x)
		return x
	}
	of := map[*Screen]*box{}
	for _, s := range b.Screens {
		of[s] = place(&box{s: s, w: boxWide, h: thumbHigh + nameHigh}, depth[s])
	}
	between := map[[2]*box]*course{}
	for _, w := range b.Ways {
		if w.From == nil || w.From == w.To {
			continue
		}
		from, to := of[w.From], of[w.To]
		left, right := from, to
		// Of two in one column the one that was placed first is taken for the left one.
		if from.col > to.col || from.col == to.col && slices.Index(cols[from.col], from) > slices.Index(cols[to.col], to) {
			left, right = to, from
		}
		c := between[[2]*box{left, right}]
		if c == nil {
			c = &course{boxes: []*box{left}, loopsAside: left.col == right.col}
			at := left
			for col := left.col + 1; col < right.col; col++ {
				bend := place(&box{w: 0, h: bendHigh}, col)
				at.out, bend.in = append(at.out, bend), append(bend.in, at)
				c.boxes = append(c.boxes, bend)
				at = bend
			}
			if !c.loopsAside {
				at.out, right.in = append(at.out, right), append(right.in, at)
			}
			c.boxes = append(c.boxes, right)
			between[[2]*box{left, right}] = c
			courses = append(courses, c)
		}
		if left == from {
			c.there = append(c.there, w)
		} else {
			c.back = append(c.back, w)
		}
	}
	order(cols)
	for i, col := range cols {
		h := -float64(rowGap)
		for _, x := range col {
			h += x.h + rowGap
		}
		high = max(high, h)
		for _, x := range col {
			x.x = mapMargin + float64(i)*(boxWide+colGap)
			if x.s == nil {
				x.x += boxWide / 2
			}
		}
		boxes = append(boxes, col...)
	}
	for _, col := range cols {
		h := -float64(rowGap)
		for _, x := range col {
			h += x.h + rowGap
		}
		y := mapMargin + (high-h)/2
		for _, x := range col {
			x.y = y
			y += x.h + rowGap
		}
	}
	return boxes, courses, 2*mapMargin + float64(len(cols))*(boxWide+colGap) - colGap + colGap/2, high + 2*mapMargin
}

// order sweeps over the columns: each box goes where the mean of its neighbours is.
func order(cols [][]*box) {
	number := func(col []*box) {
		for i, x := range col {
			x.position = (float64(i) + .5) / float64(len(col))
		}
	}
	for _, col := range cols {
		number(col)
	}
	sweep := func(col []*box, beside func(*box) []*box) {
		mean := map[*box]float64{}
		for _, x := range col {
			mean[x] = x.position
			if near := beside(x); len(near) > 0 {
				mean[x] = 0
				for _, n := range near {
					mean[x] += n.position / float64(len(near))
				}
			}
		}
		slices.SortStableFunc(col, func(a, b *box) int { return cmp.Compare(mean[a], mean[b]) })
		number(col)
	}
	for range 8 {
		for _, col := range cols {
			sweep(col, func(x *box) []*box { return x.in })
		}
		for _, col := range slices.Backward(cols) {
			sweep(col, func(x *box) []*box { return x.out })
		}
	}
}
