package lint

import (
	"hash/fnv"
	"image"
)

// cut finds text cut by the panel's edge, and letters cut in two within it.
func (p *page) cut() []Finding {
	var out []Finding
	for _, l := range p.lines {
		switch {
		case l.box.Max.X == p.w && l.blobs[len(l.blobs)-1].box.Dy() >= lowest:
			out = append(out, finding(CutPanel, l.box, "text runs to the right edge of the panel and is cut there, or stands so close that it seems to be"))
		case l.box.Min.X == 0 && l.blobs[0].box.Dy() >= lowest && p.clipped(l):
			out = append(out, finding(CutPanel, l.box, "text is cut by the left edge of the panel"))
		case (l.box.Max.Y == p.h || l.box.Min.Y == 0) && !p.listed(l):
			out = append(out, finding(CutPanel, l.box, "text is cut by the upper or lower edge of the panel"))
		}
	}
	return append(out, p.halves()...)
}

// clipped reports whether the first letter has more than a soft edge in the panel's first column.
func (p *page) clipped(l *line) bool {
	n := 0
	for y := l.box.Min.Y; y < l.box.Max.Y; y++ {
		if ratio(p.px[y*p.w], p.hue[l.on])*2 > ratio(l.ink, p.hue[l.on]) {
			n++
		}
	}
	return n > 0 && n*3 < l.height*2 // a whole stem is a letter that begins there
}

// listed reports whether a line is one of several that begin at the same place: a list that scrolls.
func (p *page) listed(l *line) bool {
	n := 0
	for _, o := range p.lines {
		if d := o.box.Min.X - l.box.Min.X; d >= -3 && d <= 3 {
			n++
		}
	}
	return n >= 4
}

// halves finds the last letters of lines that are the left part of a letter seen elsewhere, and never stand
// inside a line: a stem of an h may be an l, but half an e is no letter.
func (p *page) halves() []Finding {
	type shape struct {
		h, w int
		sum  uint64
	}
	whole, inside := map[shape]bool{}, map[shape]bool{}
	sum := func(b *blob, w int) shape {
		f := fnv.New64a()
		for y := b.box.Min.Y; y < b.box.Max.Y; y++ {
			for x := b.box.Min.X; x < b.box.Min.X+w; x++ {
				c := p.px[y*p.w+x]
				f.Write([]byte{byte(c), byte(c >> 8), byte(c >> 16)})
			}
		}
		return shape{b.box.Dy(), w, f.Sum64()}
	}
	for _, l := range p.lines {
		for i, b := range l.blobs {
			if b.box.Dy() < lowest || b.box.Dx() < 4 {
				continue
			}
			for w := 3; w < b.box.Dx()-1; w++ {
				whole[sum(b, w)] = true
			}
			if i < len(l.blobs)-1 {
				inside[sum(b, b.box.Dx())] = true
			}
		}
	}
	var out []Finding
	for _, l := range p.lines {
		b := l.blobs[len(l.blobs)-1]
		if b.box.Dx() < 3 || b.box.Dy() < lowest || len(l.blobs) < fewest || l.box.Max.X == p.w {
			continue
		}
		if s := sum(b, b.box.Dx()); whole[s] && !inside[s] && p.abrupt(b, l) {
			out = append(out, finding(CutBox, l.box, "the last letter is cut in two: its left part stands whole elsewhere on this screen"))
		}
	}
	return out
}

// abrupt reports whether strokes reach a letter's last column at full strength in more than one place, as they
// do where they were cut.
func (p *page) abrupt(b *blob, l *line) bool {
	runs, on := 0, false
	green := func(c uint32) int { return int(c >> 8 & 0xff) } // of the ways from ground to ink it tells most
	ground := green(p.hue[l.on])
	full := green(l.ink) - ground
	for y := b.box.Min.Y; y < b.box.Max.Y; y++ {
		strong := full != 0 && (green(p.px[y*p.w+b.box.Max.X-1])-ground)*5/full >= 2
		if strong && !on {
			runs++
		}
		on = strong
	}
	return runs >= 2
}

// edges finds letters that lie on two grounds and go on with a line of text: it runs over the edge of its box.
func (p *page) edges() []Finding {
	var out []Finding
	seen := map[*line]bool{}
	for _, b := range p.blobs {
		if b.on != 0 || !b.letter() || len(b.beside) < 2 || b.box.Dy() < lowest {
			continue
		}
		total, most, second := 0, 0, 0
		for _, n := range b.beside {
			total += n
			if n > most {
				most, second = n, most
			} else if n > second {
				second = n
			}
		}
		if second*8 < total {
			continue
		}
		for _, l := range p.lines {
			if seen[l] || b.beside[l.on] == 0 || b.ink != l.ink && ratio(b.ink, l.ink) > 1.3 {
				continue
			}
			gap := max(b.box.Min.X-l.box.Max.X, l.box.Min.X-b.box.Max.X)
			if gap > l.height/2 || gap < -2 || b.box.Dy() > l.box.Dy()+2 || b.box.Dy()*2 < l.height || b.box.Min.Y < l.box.Min.Y-2 || b.box.Max.Y > l.box.Max.Y+2 {
				continue
			}
			seen[l] = true
			out = append(out, finding(OverEdge, l.box.Union(b.box), "text runs over the edge of its box: a letter lies half on what is beside"))
		}
	}
	return out
}

// room is how many pixels are free beyond a line's end, up to most, on its ground.
func (p *page) room(l *line, most int) int {
	for n := range most {
		x := l.box.Max.X + n
		if x >= p.w {
			return n
		}
		for y := l.box.Min.Y; y < l.box.Max.Y; y++ {
			if p.ground[y*p.w+x] != l.on {
				return n
			}
		}
	}
	return most
}

// free is the line's box with that room.
func (l *line) free(n int) image.Rectangle {
	return image.Rect(l.box.Min.X, l.box.Min.Y, l.box.Max.X+n, l.box.Max.Y)
}
