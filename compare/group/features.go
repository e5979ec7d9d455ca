package group

import (
	"hash/fnv"
	"image"
	"math"
)

// features are what a region is grouped, ranked and named by.
type features struct {
	patch uint64 // hash of its pixels before and after, wherever they stand
	// ground is the commonest colour around; inkB and inkA are the commonest colours off it among the
	// changed pixels, before and after, and massB and massA how many pixels of the box are off it.
	ground, inkB, inkA uint32
	massB, massA       int
	groundTo           bool // the surroundings are of the colour that a recoloured shape took
	text               bool // thin strokes on even ground
	line               bool // of a line that reads as it did
	beside             bool // letters that stayed still stand beside it, as close as those of one word
	button             bool // on a filled area about its middle
	// novel is the share of the box that has, after, one colour that before has nowhere.
	novel float64
	// swamped is the share of the box that has, after, one colour of which all of before had less than half as much.
	swamped float64
	alike   float64 // overlap of content before and after, brought to one size and blurred; 1 is the same
	share   float64 // of the panel
	// ends before and after: the content lies within the old box, and ends short of it
	cut bool
	loc image.Rectangle
}

// describe fills in what a region looks like, given before without all that other reasons explain.
// line is the box of what it is a part of, such as the word of a letter.
func (s *scene) describe(r *Region, line image.Rectangle, b plane, had map[uint32]bool) {
	f := &r.feat
	box, a := r.Rect(), s.a
	f.loc = box
	f.share = float64(r.Pixels) / float64(len(a.px))
	h := fnv.New64a()
	put := func(v uint32) { h.Write([]byte{byte(v), byte(v >> 8), byte(v >> 16), byte(v >> 24)}) }
	f.ground = groundOf(a, b, box)
	inkB, inkA := map[uint32]int{}, map[uint32]int{}
	put(uint32(r.W))
	put(uint32(r.H))
	for _, q := range r.mask {
		put(uint32(q.x0-int32(r.X)) | uint32(q.y-int32(r.Y))<<16)
		put(uint32(q.x1 - q.x0))
		for i := int(q.y)*a.w + int(q.x0); i < int(q.y)*a.w+int(q.x1); i++ {
			put(b.px[i])
			put(a.px[i])
			if b.px[i] != f.ground {
				inkB[b.px[i]]++
			}
			if a.px[i] != f.ground {
				inkA[a.px[i]]++
			}
		}
	}
	f.patch = h.Sum64()
	f.inkB, _ = commonest(inkB)
	f.inkA, _ = commonest(inkA)
	if to, ok := r.Detail["to"].(string); ok && r.Cause == "recoloured" {
		f.groundTo = to == hex(f.ground)
	}
	count := map[uint32]int{}
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			i := y*a.w + x
			if b.px[i] != f.ground {
				f.massB++
			}
			if a.px[i] != f.ground {
				f.massA++
				count[a.px[i]]++
			}
		}
	}
	most, n := commonest(count)
	if !had[most] {
		f.novel = float64(n) / float64(r.W*r.H)
	}
	if (r.Cause == "added" || unsure(r.Cause)) && r.W >= 8 && r.H >= 8 {
		was := 0
		for _, c := range b.px {
			if c == most {
				was++
			}
		}
		if 2*was < n {
			f.swamped = float64(n) / float64(r.W*r.H)
		}
	}
	stroke := 0.3 // of the height; what moved as a whole may be bold
	if r.Cause == "moved" {
		stroke = 0.4
	} else {
		line = box
	}
	f.text = written(b, line, f.ground, stroke) || r.Cause == "edges" && writtenOnRows(b, line, f.ground, stroke)
	f.beside = r.H <= tallest && (r.Cause == "moved" || r.Cause == "edges") && s.stays(b, box, f.ground)
	f.button = f.text && onFill(b, line, f.ground)
	if r.Cause == "text" || r.Cause == "resized" || r.Cause == "other" {
		f.alike = alike(b, a, box, f.ground)
	}
	ib, ia := contentBox(b, box, f.ground), contentBox(a, box, f.ground)
	f.cut = r.Cause == "missing" && r.H <= tallest && f.massB*5 < 3*r.W*r.H && s.goesOn(b, box, f.ground) || f.text && (!ib.Empty() && ia.In(ib) && (ia.Dx()*10 < ib.Dx()*9 || ia.Dy()*10 < ib.Dy()*9) && f.massA*20 < f.massB*19) ||
		f.text && r.Cause == "text" && f.massA*2 < f.massB // letters are gone, between others or behind them
}

func hex(c uint32) string {
	const d = "0123456789abcdef"
	out := []byte("#000000")
	for k := range 6 {
		out[6-k] = d[c>>(4*k)&15]
	}
	return string(out)
}

// groundOf is the commonest colour in a frame of 3 px around a box, after; where nothing lies around,
// of the box itself.
func groundOf(a, b plane, box image.Rectangle) uint32 {
	count := map[uint32]int{}
	last, n := uint32(0), 0 // most are as the one before
	add := func(row []uint32) {
		for _, c := range row {
			if c != last {
				if n > 0 {
					count[last] += n
				}
				last, n = c, 0
			}
			n++
		}
	}
	outer := box.Inset(-3).Intersect(a.rect())
	for y := outer.Min.Y; y < outer.Max.Y; y++ {
		row := a.px[y*a.w : (y+1)*a.w]
		if y >= box.Min.Y && y < box.Max.Y {
			add(row[outer.Min.X:max(outer.Min.X, box.Min.X)])
			add(row[min(outer.Max.X, box.Max.X):outer.Max.X])
		} else {
			add(row[outer.Min.X:outer.Max.X])
		}
	}
	if n > 0 {
		count[last] += n
	}
	if len(count) == 0 {
		for _, c := range b.px {
			count[c]++
		}
	}
	c, _ := commonest(count)
	return c
}

// contentBox is the tight box of what is off the ground.
func contentBox(p plane, box image.Rectangle, ground uint32) image.Rectangle {
	x0, y0, x1, y1 := box.Max.X, box.Max.Y, box.Min.X, box.Min.Y
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			if p.px[y*p.w+x] != ground {
				x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x+1), max(y1, y+1)
			}
		}
	}
	if x1 <= x0 {
		return image.Rectangle{}
	}
	return image.Rect(x0, y0, x1, y1)
}

// alike brings the content of before and after to 48x8 fields and gives the overlap of what is off the
// ground in each: the same words in other letters are near 1, other words are not.
func alike(b, a plane, box image.Rectangle, ground uint32) float64 {
	const cols, rows = 48, 8
	fields := func(p plane) (out [cols * rows]float64, ok bool) {
		c := contentBox(p, box, ground)
		if c.Empty() {
			return out, false
		}
		for y := range rows {
			y0, y1 := c.Min.Y+y*c.Dy()/rows, c.Min.Y+max(y*c.Dy()/rows+1, (y+1)*c.Dy()/rows)
			for x := range cols {
				x0, x1 := c.Min.X+x*c.Dx()/cols, c.Min.X+max(x*c.Dx()/cols+1, (x+1)*c.Dx()/cols)
				n := 0
				for v := y0; v < y1; v++ {
					for u := x0; u < x1; u++ {
						n += step(p.px[v*p.w+u], ground)
					}
				}
				out[y*cols+x] = float64(n) / float64((y1-y0)*(x1-x0))
			}
		}
		blurred := out
		for y := range rows {
			for x := range cols {
				sum, n := 0.0, 0.0
				for u := max(0, x-1); u <= min(cols-1, x+1); u++ {
					sum, n = sum+out[y*cols+u], n+1
				}
				blurred[y*cols+x] = sum / n
			}
		}
		return blurred, true
	}
	p, ok := fields(b)
	q, ok2 := fields(a)
	if !ok || !ok2 {
		return 0
	}
	lo, hi := 0.0, 0.0
	for i := range p {
		lo += math.Min(p[i], q[i])
		hi += math.Max(p[i], q[i])
	}
	return lo / math.Max(1, hi)
}
