package group

import (
	"bytes"
	"image"
	"image/color"
	"unsafe"
)

// plane is a picture as 0x00RRGGBB, row after row, its top left at 0, 0, laid on black.
type plane struct {
	w, h int
	px   []uint32
}

func planeOf(m image.Image) plane {
	b := m.Bounds()
	p := plane{w: b.Dx(), h: b.Dy(), px: make([]uint32, b.Dx()*b.Dy())}
	for y := range p.h {
		row := p.px[y*p.w : (y+1)*p.w]
		switch m := m.(type) {
		case *image.Paletted:
			if y == 0 && len(m.Palette) > 256 {
				break
			}
			var table [256]uint32
			for i, c := range m.Palette {
				table[i] = pack(c)
			}
			for x, i := range m.Pix[m.PixOffset(b.Min.X, b.Min.Y+y):][:p.w] {
				row[x] = table[i]
			}
			continue
		case *image.RGBA: // colours times alpha: the picture on black
			in := m.Pix[m.PixOffset(b.Min.X, b.Min.Y+y):][:4*p.w]
			for x := range row {
				row[x] = uint32(in[4*x])<<16 | uint32(in[4*x+1])<<8 | uint32(in[4*x+2])
			}
			continue
		case *image.NRGBA:
			in := m.Pix[m.PixOffset(b.Min.X, b.Min.Y+y):][:4*p.w]
			for x := range row {
				if q := in[4*x : 4*x+4]; q[3] == 0xff {
					row[x] = uint32(q[0])<<16 | uint32(q[1])<<8 | uint32(q[2])
				} else {
					row[x] = pack(color.NRGBA{q[0], q[1], q[2], q[3]})
				}
			}
			continue
		}
		for x := range row {
			row[x] = pack(m.At(b.Min.X+x, b.Min.Y+y))
		}
	}
	return p
}

func pack(c color.Color) uint32 {
	r, g, b, _ := c.RGBA()
	return r>>8<<16 | g>>8<<8 | b>>8
}

func (p plane) image() *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, p.w, p.h))
	for i, c := range p.px {
		q := m.Pix[4*i : 4*i+4 : 4*i+4]
		q[0], q[1], q[2], q[3] = uint8(c>>16), uint8(c>>8), uint8(c), 0xff
	}
	return m
}

func (p plane) clone() plane {
	q := p
	q.px = append([]uint32(nil), p.px...)
	return q
}

func (p plane) crop(r image.Rectangle) plane {
	q := plane{w: r.Dx(), h: r.Dy(), px: make([]uint32, 0, r.Dx()*r.Dy())}
	for y := r.Min.Y; y < r.Max.Y; y++ {
		q.px = append(q.px, p.px[y*p.w+r.Min.X:y*p.w+r.Max.X]...)
	}
	return q
}

func (p plane) rect() image.Rectangle { return image.Rect(0, 0, p.w, p.h) }

// span is a stretch of a row, x0 to before x1.
type span struct{ y, x0, x1 int32 }

// blob is a set of pixels that hang together.
type blob struct {
	box  image.Rectangle
	px   []int32 // indices, in reading order
	mask []span
}

// blobs groups the marked pixels of a w x h mask that are at most join apart along both axes, in
// reading order of their first pixels; with join 5 just as package compare does for its regions.
func blobs(mask []bool, w, h, join int) []blob {
	bits := unsafe.Slice((*byte)(unsafe.Pointer(unsafe.SliceData(mask))), len(mask)) // a bool is a byte, 0 or 1
	var runs []span                                                                  // stretches with gaps up to join
	first := make([]int, h+1)
	for y := range h {
		first[y] = len(runs)
		last := -1 - join
		row := bits[y*w : (y+1)*w]
		for x := 0; x < len(row); x++ {
			if row[x] == 0 { // most are, so the next that is not is sought many at a time
				next := bytes.IndexByte(row[x:], 1)
				if next < 0 {
					break
				}
				x += next
			}
			if x-last > join {
				runs = append(runs, span{y: int32(y), x0: int32(x)})
			}
			last = x
			runs[len(runs)-1].x1 = int32(x + 1)
		}
	}
	first[h] = len(runs)
	parent := make([]int32, len(runs))
	for i := range parent {
		parent[i] = int32(i)
	}
	find := func(a int32) int32 {
		for parent[a] != a {
			parent[a] = parent[parent[a]]
			a = parent[a]
		}
		return a
	}
	for y := range h {
		for d := 1; d <= min(join, y); d++ {
			a, a1, b, b1 := first[y-d], first[y-d+1], first[y], first[y+1]
			for a < a1 && b < b1 {
				p, q := runs[a], runs[b]
				if p.x0-(q.x1-1) <= int32(join) && q.x0-(p.x1-1) <= int32(join) {
					if i, k := find(int32(a)), find(int32(b)); i < k {
						parent[k] = i
					} else {
						parent[i] = k
					}
				}
				if p.x1 < q.x1 {
					a++
				} else {
					b++
				}
			}
		}
	}
	index := make([]int32, len(runs))
	var out []blob
	for i, r := range runs {
		root := find(int32(i))
		if index[root] == 0 {
			out = append(out, blob{})
			index[root] = int32(len(out))
		}
		b := &out[index[root]-1]
		b.box = b.box.Union(image.Rect(int(r.x0), int(r.y), int(r.x1), int(r.y)+1))
		for x := r.x0; x < r.x1; x++ {
			k := r.y*int32(w) + x
			if !mask[k] {
				continue
			}
			b.px = append(b.px, k)
			if n := len(b.mask); n > 0 && b.mask[n-1].y == r.y && b.mask[n-1].x1 == x {
				b.mask[n-1].x1 = x + 1
			} else {
				b.mask = append(b.mask, span{r.y, x, x + 1})
			}
		}
	}
	return out
}

// step is the largest difference of a channel.
func step(a, b uint32) int {
	d := 0
	for s := 0; s <= 16; s += 8 {
		v := int(a>>s&0xff) - int(b>>s&0xff)
		d = max(d, v, -v)
	}
	return d
}

// commonest gives the commonest of colours, of equally common ones the least, and how often it occurs.
func commonest(count map[uint32]int) (colour uint32, n int) {
	for c, k := range count {
		if k > n || k == n && c < colour {
			colour, n = c, k
		}
	}
	return colour, n
}
