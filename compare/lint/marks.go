package lint

import (
	"fmt"
	"image"
	"strings"
)

// touching finds text that another text, or the border of a box, comes up to without a gap.
func (p *page) touching() []Finding {
	var out []Finding
	for i, l := range p.lines {
		for _, o := range p.lines[i+1:] {
			in := l.box.Intersect(o.box)
			if in.Dx() > 2 && in.Dy() > 2 && in.Dy()*2 < min(l.box.Dy(), o.box.Dy()) && p.inked(in) {
				out = append(out, finding(Touching, l.box.Union(o.box), "two lines of text overlap by %d pixels", in.Dy()))
			}
		}
		if b := p.against(l); b != nil {
			out = append(out, finding(Touching, image.Rect(l.box.Min.X, l.box.Min.Y, l.box.Max.X+3, l.box.Max.Y).Intersect(image.Rect(0, 0, p.w, p.h)), "text ends right at the border of what is beside it"))
		}
	}
	return out
}

// inked reports whether an area shows more than ground.
func (p *page) inked(r image.Rectangle) bool {
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			if p.ground[y*p.w+x] == 0 {
				return true
			}
		}
	}
	return false
}

// against is a blob higher than the line, a border, that stands right of the line's end without a gap.
func (p *page) against(l *line) *blob {
	x := l.box.Max.X + 1
	if x >= p.w {
		return nil
	}
	for _, at := range []int{x - 1, x} {
		for y := l.box.Min.Y; y < l.box.Max.Y; y++ {
			n := p.blobOf[y*p.w+at]
			if n == 0 {
				continue
			}
			b := p.blobs[n-1]
			if b.line == nil && b.box.Dy() >= l.box.Dy()+4 && b.box.Min.Y < l.box.Min.Y && b.box.Max.Y > l.box.Max.Y && b.box.Max.X > l.box.Max.X+8 {
				return b
			}
		}
	}
	return nil
}

// dots reports whether a line ends in three dots.
func (l *line) dots() bool {
	n := len(l.blobs)
	if n < 5 {
		return false
	}
	last := l.blobs[n-3:]
	for i, b := range last {
		if b.box.Dx() > max(2, l.height/3) || b.box.Dy() > max(2, l.height/3) || b.box.Dy() != last[0].box.Dy() || b.box.Min.Y != last[0].box.Min.Y {
			return false
		}
		if i > 0 && b.box.Min.X-last[i-1].box.Max.X > l.height/2 {
			return false
		}
	}
	step := last[1].box.Min.X - last[0].box.Min.X
	other := last[2].box.Min.X - last[1].box.Min.X
	return last[0].box.Min.Y > l.box.Min.Y+l.box.Dy()/2 && step-other <= 1 && other-step <= 1
}

// shortened finds text that ends in dots where there is no room for more.
func (p *page) shortened() []Finding {
	var out []Finding
	for _, l := range p.lines {
		if n := p.room(l, 2*l.height); l.dots() && n < 2*l.height {
			out = append(out, finding(Shortened, l.free(n), "text ends in dots, and there is no room for more: it was shortened"))
		}
	}
	return out
}

// noGlyph finds empty boxes of a letter's size among letters.
func (p *page) noGlyph() []Finding {
	var out []Finding
	for _, l := range p.lines {
		var box image.Rectangle
		n := 0
		for i, b := range l.blobs {
			if p.hollow(b, l) && (i > 0 || len(l.blobs) > 1 && p.hollow(l.blobs[1], l)) {
				n++
				box = box.Union(b.box)
			}
		}
		if n > 0 {
			out = append(out, finding(NoGlyph, box, "%s among letters: the font has no glyph for what is written", count(n, "empty box", "empty boxes")))
		}
	}
	return out
}

func count(n int, one, many string) string {
	if n == 1 {
		return "an " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// hollow reports whether a blob is a rectangle of one colour, one or two pixels thick, with nothing in it.
func (p *page) hollow(b *blob, l *line) bool {
	w, h := b.box.Dx(), b.box.Dy()
	if w < 4 || h < 6 || w > h*5/4 || 3*w < h || 4*h < 3*l.height {
		return false
	}
	ink := p.px[b.box.Min.Y*p.w+b.box.Min.X]
	for thick := 1; thick <= 2; thick++ {
		in := b.box.Inset(thick)
		if in.Dx() < 2 || in.Dy() < 2 {
			return false
		}
		ok := true
		for y := b.box.Min.Y; y < b.box.Max.Y && ok; y++ {
			for x := b.box.Min.X; x < b.box.Max.X && ok; x++ {
				if c := p.px[y*p.w+x]; image.Pt(x, y).In(in) {
					ok = c == p.hue[l.on]
				} else {
					ok = c == ink
				}
			}
		}
		if ok {
			return true
		}
	}
	return false
}

// tongues are words by which names of looks tell languages apart.
var tongues = func() map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(`en de fr es it pt nl da sv no nb fi pl cs sk hu ro bg el tr ru uk ja zh ko ar he
		english deutsch german francais français french espanol español spanish italiano italian portugues português nederlands
		dutch dansk svenska norsk suomi polski cestina magyar`) {
		m[w] = true
	}
	return m
}()

// languageOf splits a name into what remains without its language, and the language; "" if it names none.
func languageOf(name string) (rest, tongue string) {
	words := strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return strings.ContainsRune(" -_./", r) })
	for i, w := range words {
		if tongues[w] {
			words[i] = "*"
			return strings.Join(words, " "), w
		}
	}
	return name, ""
}

// languages holds pictures against each other that differ in their language: a line that fills its room in one,
// and has some left in all others.
func languages(pictures []Picture, pages []*page) []Finding {
	groups := map[string][]int{}
	for i, p := range pictures {
		if rest, tongue := languageOf(p.Name); tongue != "" {
			groups[rest] = append(groups[rest], i)
		}
	}
	const tight, roomy = 3, 8
	var out []Finding
	for i, p := range pictures {
		rest, tongue := languageOf(p.Name)
		if tongue == "" || len(groups[rest]) < 2 {
			continue
		}
		for _, l := range pages[i].lines {
			if pages[i].room(l, roomy) > tight && !l.dots() {
				continue
			}
			others := 0
			for _, j := range groups[rest] {
				if o := pages[j].at(l); j != i && o != nil {
					if pages[j].room(o, roomy) < roomy || o.dots() {
						others = -len(pictures)
					}
					others++
				}
			}
			if others > 0 {
				f := finding(Language, l.box, "in this language (%s) the text fills its room to %d pixels, and in %d others it does not: it may be cut or shortened", tongue, pages[i].room(l, roomy), others)
				f.Picture = p.Name
				out = append(out, f)
			}
		}
	}
	return out
}

// at is the page's line that begins where another does.
func (p *page) at(l *line) *line {
	for _, o := range p.lines {
		if dx, dy := o.box.Min.X-l.box.Min.X, o.box.Max.Y-l.box.Max.Y; dx >= -4 && dx <= 4 && dy >= -4 && dy <= 4 {
			return o
		}
	}
	return nil
}
