package lint

import (
	"image"
	"image/color"
	"image/draw"
	"slices"
	"sort"
)

const (
	solid   = 8  // a ground holds a square of one colour of so many pixels a side: more than strokes of letters do
	tallest = 40 // of a letter
	lowest  = 4
	fewest  = 3 // letters of what is taken for text
)

// A page is a picture taken apart: grounds of one colour, blobs that lie on them, and lines of text.
type page struct {
	w, h   int
	px     []uint32
	ground []int32 // of each pixel: 1 + the number of its ground, 0: none
	hue    []uint32
	blobOf []int32 // 1 + number
	blobs  []*blob
	lines  []*line
}

// A blob is a connected piece of what is no ground.
type blob struct {
	box    image.Rectangle
	pixels int
	beside map[int32]int // grounds that it touches, and by how many pixels
	on     int32         // the ground that it lies on; 0: on none, or on several
	ink    uint32        // its colour farthest from the ground
	line   *line
}

// A line is text: blobs side by side on one ground.
type line struct {
	blobs  []*blob
	box    image.Rectangle
	on     int32
	ink    uint32
	height int // of a typical letter
}

func rgb(c color.Color) uint32 {
	r, g, b, _ := c.RGBA()
	return r>>8<<16 | g>>8<<8 | b>>8
}

// read takes a picture apart.
func read(m image.Image) *page {
	b := m.Bounds()
	p := &page{w: b.Dx(), h: b.Dy(), px: make([]uint32, b.Dx()*b.Dy())}
	rgba := image.NewRGBA(image.Rect(0, 0, p.w, p.h))
	draw.Draw(rgba, rgba.Rect, m, b.Min, draw.Src)
	for i := range p.px {
		p.px[i] = uint32(rgba.Pix[4*i])<<16 | uint32(rgba.Pix[4*i+1])<<8 | uint32(rgba.Pix[4*i+2])
	}
	p.grounds()
	p.findBlobs()
	p.findLines()
	return p
}

// grounds finds areas of exactly one colour that are wide somewhere.
func (p *page) grounds() {
	p.ground = make([]int32, len(p.px))
	p.hue = []uint32{0}
	seen := make([]bool, len(p.px))
	wide := p.squares()
	var stack, area []int
	for start := range p.px {
		if seen[start] || !wide[start] {
			continue
		}
		number := int32(len(p.hue))
		p.hue = append(p.hue, p.px[start])
		stack, area = append(stack[:0], start), area[:0]
		seen[start] = true
		for len(stack) > 0 {
			i := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			area = append(area, i)
			x := i % p.w
			for _, n := range [4]int{i - 1, i + 1, i - p.w, i + p.w} {
				if n < 0 || n >= len(p.px) || n == i-1 && x == 0 || n == i+1 && x == p.w-1 || seen[n] || p.px[n] != p.px[start] {
					continue
				}
				seen[n] = true
				stack = append(stack, n)
			}
		}
		for _, i := range area {
			p.ground[i] = number
		}
	}
}

// squares marks pixels that are the lower right corner of a square of one colour.
func (p *page) squares() []bool {
	side := make([]int, len(p.px))
	wide := make([]bool, len(p.px))
	for y := range p.h {
		for x := range p.w {
			i := y*p.w + x
			side[i] = 1
			if x > 0 && y > 0 && p.px[i] == p.px[i-1] && p.px[i] == p.px[i-p.w] && p.px[i] == p.px[i-p.w-1] {
				side[i] = 1 + min(side[i-1], side[i-p.w], side[i-p.w-1])
			}
			wide[i] = side[i] >= solid
		}
	}
	return wide
}

// findBlobs joins what is no ground.
func (p *page) findBlobs() {
	p.blobOf = make([]int32, len(p.px))
	var stack []int
	for start := range p.px {
		if p.ground[start] != 0 || p.blobOf[start] != 0 {
			continue
		}
		b := &blob{beside: map[int32]int{}}
		p.blobs = append(p.blobs, b)
		number := int32(len(p.blobs))
		stack = append(stack[:0], start)
		p.blobOf[start] = number
		var all []int
		for len(stack) > 0 {
			i := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			all = append(all, i)
			x, y := i%p.w, i/p.w
			b.box = b.box.Union(image.Rect(x, y, x+1, y+1))
			b.pixels++
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					nx, ny := x+dx, y+dy
					if nx < 0 || ny < 0 || nx >= p.w || ny >= p.h || dx == 0 && dy == 0 {
						continue
					}
					n := ny*p.w + nx
					if g := p.ground[n]; g != 0 {
						if dx == 0 || dy == 0 {
							b.beside[g]++
						}
						continue
					}
					if p.blobOf[n] == 0 {
						p.blobOf[n] = number
						stack = append(stack, n)
					}
				}
			}
		}
		p.colour(b, all)
	}
}

// colour finds a blob's ground and ink.
func (p *page) colour(b *blob, pixels []int) {
	total, most := 0, int32(0)
	for g, n := range b.beside {
		total += n
		if n > b.beside[most] || n == b.beside[most] && g < most {
			most = g
		}
	}
	if most == 0 {
		return
	}
	if b.beside[most]*20 >= total*19 {
		b.on = most
	}
	best := 0.0
	for _, i := range pixels {
		if c := ratio(p.px[i], p.hue[most]); c > best {
			best, b.ink = c, p.px[i]
		}
	}
}

// letter reports whether a blob may be one.
func (b *blob) letter() bool {
	w, h := b.box.Dx(), b.box.Dy()
	return h <= tallest && w <= tallest*3/2 && w <= 5*max(h, 4)
}

// findLines puts letters together that lie side by side on one ground.
func (p *page) findLines() {
	var letters []*blob
	for _, b := range p.blobs {
		if b.on != 0 && b.letter() {
			letters = append(letters, b)
		}
	}
	sort.SliceStable(letters, func(i, j int) bool { return letters[i].box.Min.X < letters[j].box.Min.X })
	for _, b := range letters {
		var to *line
		for _, l := range p.lines {
			if l.on == b.on && l.takes(b) && (to == nil || l.box.Max.X > to.box.Max.X) {
				to = l
			}
		}
		if to == nil {
			to = &line{on: b.on}
			p.lines = append(p.lines, to)
		}
		to.blobs = append(to.blobs, b)
		to.box = to.box.Union(b.box)
	}
	p.lines = slices.DeleteFunc(p.lines, func(l *line) bool { return !p.isText(l) })
	for _, l := range p.lines {
		for _, b := range l.blobs {
			b.line = l
		}
	}
}

// takes reports whether a blob goes on with the line: beside or over its last letters, at the same height.
func (l *line) takes(b *blob) bool {
	h := max(l.box.Dy(), b.box.Dy())
	gap := b.box.Min.X - l.box.Max.X
	if gap > max(h*6/10, 4) || gap < -h {
		return false
	}
	over := min(l.box.Max.Y, b.box.Max.Y) - max(l.box.Min.Y, b.box.Min.Y)
	if over < min(l.box.Dy(), b.box.Dy())*6/10 { // a dot over its letter, or a mark beside
		return gap < 0 && b.box.Dy() <= h/3 && b.box.Max.Y >= l.box.Min.Y-h/3 && b.box.Min.Y <= l.box.Max.Y+h/4 && l.box.Dy() >= lowest
	}
	return l.box.Union(b.box).Dy() <= min(h*3/2, tallest)
}

// isText reports whether a line has letters enough, of like heights and one ink, to be taken for text.
func (p *page) isText(l *line) bool {
	var heights []int
	for _, b := range l.blobs {
		if b.box.Dy() >= lowest {
			heights = append(heights, b.box.Dy())
		}
	}
	if len(heights) < fewest {
		return false
	}
	slices.Sort(heights)
	l.height = heights[len(heights)/2]
	if heights[len(heights)-1] > 2*l.height {
		return false
	}
	best := 0.0
	inks := map[uint32]int{}
	for _, b := range l.blobs {
		inks[b.ink]++
		if c := ratio(b.ink, p.hue[l.on]); c > best {
			best, l.ink = c, b.ink
		}
	}
	if p.drawn(l) {
		return false
	}
	pale := 0
	for _, b := range l.blobs { // small letters never reach the full ink: allow some way
		if ratio(b.ink, p.hue[l.on]) < 1+(best-1)*0.4 {
			pale++
		}
	}
	return pale*3 <= len(l.blobs)
}

// drawn reports whether a line's blobs are not letters: bars that are full of one colour, or equal round dots.
func (p *page) drawn(l *line) bool {
	full, round := 0, 0
	for _, b := range l.blobs {
		w, h := b.box.Dx(), b.box.Dy()
		if b.pixels == w*h && h > 2 && w > 1 {
			full++
		}
		if w*10 >= h*9 && h*10 >= w*9 && h >= lowest {
			round++
		}
	}
	return full*2 > len(l.blobs) || round == len(l.blobs)
}
