package compare

import "image"

// content is what stands out from the ground in one picture, from the changed pixels of
// a component on: the changed pixels themselves and all that hangs together with them.
type content struct {
	box image.Rectangle
	at  []int32 // pixel indices
	// leaked means that it hangs together with too much to be one thing; at and box are
	// then of the changed pixels alone.
	leaked bool
}

// explorer walks content. It keeps its marks between calls, so that one call costs what
// it visits and not the panel.
type explorer struct {
	p     *pair
	mark  []int32
	stamp int32
}

// region is a component under examination.
type region struct {
	component
	px     []int32 // its changed pixels
	ground ground
	g, c   content // of golden and capture
	ends   []end   // of shapes that end otherwise here
}

// maxSample is how many changed pixels of a region are asked where shares are wanted.
const maxSample = 4096

// sample gives the changed pixels, or of a large region some, evenly spread: the shares
// that causes are told by need no more.
func (r *region) sample() []int32 { return thinned(r.px) }

func thinned(px []int32) []int32 {
	if len(px) <= maxSample {
		return px
	}
	out := make([]int32, 0, maxSample)
	for k := range maxSample {
		out = append(out, px[k*len(px)/maxSample])
	}
	return out
}

// explore collects the content of m that touches the changed pixels of r.
func (e *explorer) explore(m *picture, r *region) content {
	e.stamp++
	p := e.p
	var out content
	if len(r.px)*4 > p.w*p.h { // a change as large as this is no one thing
		out.leaked = true
		out.keepChanged(p, m, r)
		return out
	}
	var todo []int32
	visit := func(x, y int) {
		if x < 0 || y < 0 || x >= p.w || y >= p.h {
			return
		}
		i := int32(y*p.w + x)
		if e.mark[i] == e.stamp || r.ground.is(m.px[i], x, y) || !p.counts(int(i)) {
			return
		}
		e.mark[i] = e.stamp
		todo = append(todo, i)
	}
	for _, i := range r.px {
		x, y := int(i)%p.w, int(i)/p.w
		visit(x, y)
	}
	seeds := len(todo)
	if seeds == 0 { // content that merely borders on the change
		for _, i := range r.px {
			x, y := int(i)%p.w, int(i)/p.w
			for _, d := range neighbours {
				visit(x+d.X, y+d.Y)
			}
		}
	}
	limit := max(6*len(r.px)+400, 4*r.box.Dx()*r.box.Dy())
	for len(todo) > 0 {
		i := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		x, y := int(i)%p.w, int(i)/p.w
		out.at = append(out.at, i)
		if len(out.at) > limit {
			out.leaked = true
			break
		}
		for _, d := range neighbours {
			visit(x+d.X, y+d.Y)
		}
	}
	if b := boxOf(out.at, p.w); b.Dx() > 3*r.box.Dx()+40 && b.Dy() > 3*r.box.Dy()+40 {
		out.leaked = true
	}
	if out.leaked {
		out.keepChanged(p, m, r)
		return out
	}
	out.box = boxOf(out.at, p.w)
	return out
}

// keepChanged takes the changed pixels alone as the content.
func (c *content) keepChanged(p *pair, m *picture, r *region) {
	c.at = c.at[:0]
	for _, i := range r.px {
		if !r.ground.is(m.px[i], int(i)%p.w, int(i)/p.w) {
			c.at = append(c.at, i)
		}
	}
	c.box = boxOf(c.at, p.w)
}

var neighbours = [8]image.Point{{-1, -1}, {0, -1}, {1, -1}, {-1, 0}, {1, 0}, {-1, 1}, {0, 1}, {1, 1}}

func boxOf(at []int32, w int) image.Rectangle {
	if len(at) == 0 {
		return image.Rectangle{}
	}
	x0, y0, x1, y1 := w, int(at[0])/w, 0, 0
	for _, i := range at {
		x, y := int(i)%w, int(i)/w
		x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x+1), max(y1, y+1)
	}
	return image.Rect(x0, y0, x1, y1)
}
