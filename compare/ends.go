package compare

import "image"

// stretched: a shape's end moved along one axis, as a bar's does: the body goes on where
// ground or track was, the cap stands further along.
func (p *pair) stretched(r *region) *guess {
	b := r.box
	type access func(m *picture, u, v int) (uint32, bool)
	var first *guess
	at := func(m *picture, x, y int) (uint32, bool) {
		if x < 0 || y < 0 || x >= p.w || y >= p.h {
			return 0, false
		}
		return m.px[y*p.w+x], true
	}
	// u runs along the axis from the body to the end, v across it.
	for _, dir := range []struct {
		get  access
		u, v int
		axis string
		sign int // of the axis, from body to end
	}{
		{func(m *picture, u, v int) (uint32, bool) { return at(m, b.Min.X+u, b.Min.Y+v) }, b.Dx(), b.Dy(), "x", 1},
		{func(m *picture, u, v int) (uint32, bool) { return at(m, b.Max.X-1-u, b.Min.Y+v) }, b.Dx(), b.Dy(), "x", -1},
		{func(m *picture, u, v int) (uint32, bool) { return at(m, b.Min.X+v, b.Min.Y+u) }, b.Dy(), b.Dx(), "y", 1},
		{func(m *picture, u, v int) (uint32, bool) { return at(m, b.Min.X+v, b.Max.Y-1-u) }, b.Dy(), b.Dx(), "y", -1},
	} {
		if dir.v < 2 {
			continue
		}
		for _, pics := range [2][2]*picture{{p.g, p.c}, {p.c, p.g}} {
			short := func(u, v int) (uint32, bool) { return dir.get(pics[0], u, v) }
			long := func(u, v int) (uint32, bool) { return dir.get(pics[1], u, v) }
			if n := grownBy(r, short, long, dir.u, dir.v); n > 0 {
				if pics[0] == p.c {
					n = -n
				}
				g := guessed("resized", Detail{"axis": dir.axis, "by": n})
				body, _ := short(-1, dir.v/2)
				r.ends = append(r.ends, end{axis: dir.axis, sign: dir.sign, moved: n * dir.sign, body: body})
				if first == nil {
					first = g
				}
				break
			}
		}
	}
	return first
}

// end is the end of a shape that moved along an axis.
type end struct {
	axis  string
	sign  int    // +1: the end on the right or at the bottom
	moved int    // px along the axis
	body  uint32 // the colour that the shape has there
}

// grownBy gives the number of pixels by which the shape in long is longer than in short,
// 0 if it is not the same shape. A cap of up to 16 px may end it.
func grownBy(r *region, short, long func(u, v int) (uint32, bool), U, V int) int {
	same := func(f func(u, v int) (uint32, bool), u int, g func(u, v int) (uint32, bool), w int) bool {
		bad := 0
		for v := range V {
			a, ok1 := f(u, v)
			b, ok2 := g(w, v)
			if !ok1 || !ok2 {
				return false
			}
			if !r.alike(a, b) {
				bad++
			}
		}
		return bad*20 <= V
	}
	// The body must differ from what lies beyond the end, or nothing ends here.
	if _, ok := long(-1, 0); !ok || same(long, -1, short, U) {
		return 0
	}
next:
	for n := U; n >= max(1, U-16); n-- {
		for u := range n {
			if !same(long, u, long, -1) {
				continue next
			}
		}
		for u := n; u < U; u++ {
			if !same(long, u, short, u-n) {
				continue next
			}
		}
		for u := U - n; u < U; u++ {
			if !same(short, u, short, U) {
				continue next
			}
		}
		return n
	}
	return 0
}

// foldResized takes regions inside a thing that was resized as parts of it: a button that
// grew also moves its caption.
func foldResized(list []*region, guesses []*guess) {
	for i, r := range list {
		if guesses[i].cause != "resized" {
			continue
		}
		in := image.Rectangle{}
		if !r.g.leaked && !r.c.leaked && len(r.g.at) > 0 && len(r.c.at) > 0 {
			in = r.g.box.Union(r.c.box)
		}
		for j, o := range list {
			if j == i || guesses[j].cause == "resized" {
				continue
			}
			if o.box.In(in) || guesses[j].cause == "moved" && onBody(r, o) {
				guesses[j] = guesses[i]
			}
		}
	}
}

// onBody reports whether region o stands on the body of the shape whose end is r.
func onBody(r, o *region) bool {
	for _, e := range r.ends {
		if !o.ground.flat || o.ground.colour != e.body {
			continue
		}
		if e.axis == "x" && o.box.Min.Y >= r.box.Min.Y && o.box.Max.Y <= r.box.Max.Y ||
			e.axis == "y" && o.box.Min.X >= r.box.Min.X && o.box.Max.X <= r.box.Max.X {
			return true
		}
	}
	return false
}

// joinEnds takes two opposite ends of a shape that went the same way for a shape that moved.
func joinEnds(list []*region, guesses []*guess) {
	for i, a := range list {
		for j, b := range list {
			if i == j || guesses[i].cause != "resized" || guesses[j].cause != "resized" {
				continue
			}
			for _, p := range a.ends {
				for _, q := range b.ends {
					if p.axis != q.axis || p.moved != q.moved || !a.alike(p.body, q.body) || p.sign != 1 || q.sign != -1 || !facing(a.box, b.box, p.axis) {
						continue
					}
					g := guessed("moved", Detail{"dx": p.moved, "dy": 0})
					if p.axis == "y" {
						g = guessed("moved", Detail{"dx": 0, "dy": p.moved})
					}
					for k, o := range list { // ends between the two went along
						if guesses[k].cause == "resized" && facing(a.box, o.box, p.axis) && goes(o, p.axis, p.moved) {
							guesses[k] = g
						}
					}
					guesses[i], guesses[j] = g, g
				}
			}
		}
	}
}

func goes(r *region, axis string, moved int) bool {
	for _, e := range r.ends {
		if e.axis == axis && e.moved == moved {
			return true
		}
	}
	return false
}

// facing reports whether two ends share their extent across the axis.
func facing(a, b image.Rectangle, axis string) bool {
	if axis == "x" {
		return a.Min.Y == b.Min.Y && a.Max.Y == b.Max.Y
	}
	return a.Min.X == b.Min.X && a.Max.X == b.Max.X
}
