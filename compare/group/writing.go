package group

import (
	"fmt"
	"image"
	"math"
)

// written reports whether a box holds letters: several strokes a row, or one thin one, all standing on
// even ground. stroke is how wide they may be, of the height.
func written(p plane, box image.Rectangle, ground uint32, stroke float64) bool {
	runs, inked := 0, 0
	for y := box.Min.Y; y < box.Max.Y; y++ {
		was := false
		for x := box.Min.X; x < box.Max.X; x++ {
			is := p.px[y*p.w+x] != ground
			if is {
				inked++
				if !was {
					runs++
				}
			}
			was = is
		}
	}
	w, h := box.Dx(), box.Dy()
	wide := float64(inked) / math.Max(1, float64(runs))
	return h >= 4 && h <= 48 && runs > 0 && wide <= math.Max(3, stroke*float64(h)) && wide < 0.6*float64(w) && inked*10 < w*h*6 && lonely(p, box, ground)
}

// writtenOnRows is written on ground that is even along each row and changes little by little from row to row, as that of
// a gradient from top to bottom does.
func writtenOnRows(p plane, box image.Rectangle, ground uint32, stroke float64) bool {
	crop := box.Inset(-2).Intersect(p.rect())
	q := p.crop(crop)
	last, changes := uint32(0), 0
	for y := range q.h {
		row := q.px[y*q.w : (y+1)*q.w]
		c := nearer(ground, row[0], row[len(row)-1])
		if y > 0 && c != last {
			if changes++; step(c, last) > 2*faintStep {
				return false
			}
		}
		last = c
		for x, v := range row {
			if v == c {
				row[x] = ground
			}
		}
	}
	return changes > 0 && written(q, box.Sub(crop.Min), ground, stroke)
}

// nearer gives the one of two colours that is nearer to another.
func nearer(to, a, b uint32) uint32 {
	if step(b, to) < step(a, to) {
		return b
	}
	return a
}

// linesOf gives for each of a look's regions the box of those of its cause and figures that stand beside it
// in a row: pieces of letters, and letters of a word.
func linesOf(regions []Region) []image.Rectangle {
	out, alike := make([]image.Rectangle, len(regions)), make([]string, len(regions))
	for i, r := range regions {
		out[i], alike[i] = r.Rect(), fmt.Sprint(r.Cause, r.Detail)
	}
	const word, many = 48, 400 // the tallest line of text; of more regions than that few are words
	if len(regions) > many {
		return out
	}
	for again := true; again; {
		again = false
		for i := range out {
			for k := range i {
				if out[i] == out[k] || alike[i] != alike[k] {
					continue
				}
				a, b := out[i], out[k]
				both := a.Union(b)
				gapX, gapY := both.Dx()-a.Dx()-b.Dx(), both.Dy()-a.Dy()-b.Dy()
				if both.Dy() <= word && gapX <= 8 && gapY <= 6 && (gapX <= 0 || gapY <= 0) {
					for j := range out {
						if out[j] == a || out[j] == b {
							out[j] = both
						}
					}
					again = true
				}
			}
		}
	}
	return out
}

// lonely reports whether the frame around a box is nearly all ground.
func lonely(p plane, box image.Rectangle, ground uint32) bool {
	n, off := 0, 0
	outer := box.Inset(-1).Intersect(p.rect())
	for y := outer.Min.Y; y < outer.Max.Y; y++ {
		for x := outer.Min.X; x < outer.Max.X; x++ {
			if image.Pt(x, y).In(box) {
				x = box.Max.X - 1
				continue
			}
			n++
			if p.px[y*p.w+x] != ground {
				off++
			}
		}
	}
	return off*4 <= n
}

// onFill reports whether a box stands about the middle of the height of a filled area that is less
// than the panel: the label of a button.
func onFill(p plane, box image.Rectangle, ground uint32) bool {
	x := max(0, box.Min.X-2)
	y0, y1 := box.Min.Y, box.Max.Y-1
	for y0 > 0 && p.px[(y0-1)*p.w+x] == ground {
		y0--
	}
	for y1 < p.h-1 && p.px[(y1+1)*p.w+x] == ground {
		y1++
	}
	above, below := box.Min.Y-y0, y1+1-box.Max.Y
	return y0 > 0 && y1-y0 < p.h/3 && above+below >= 6 && above-below <= 8 && below-above <= 8
}

// goesOn reports whether content that stayed still stands before a box on its rows, as the beginning of a line
// does.
func (s *scene) goesOn(b plane, box image.Rectangle, ground uint32) bool {
	n := 0
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := max(0, box.Min.X-3*box.Dy()); x < box.Min.X; x++ {
			if i := y*b.w + x; s.a.px[i] != ground && b.px[i] == s.a.px[i] {
				n++
			}
		}
	}
	return n >= box.Dy() && n <= 2*box.Dy()*box.Dy() // and no filled area
}

// stays reports whether content that stayed still stands right beside a box on its rows, as the other letters of a
// word do when some of them change, and is no filled area.
func (s *scene) stays(b plane, box image.Rectangle, ground uint32) bool {
	by := max(2, box.Dy()/3)
	for _, side := range [2]image.Rectangle{
		image.Rect(box.Min.X-by, box.Min.Y, box.Min.X, box.Max.Y), image.Rect(box.Max.X, box.Min.Y, box.Max.X+by, box.Max.Y)} {
		side = side.Intersect(s.a.rect())
		n := 0
		for y := side.Min.Y; y < side.Max.Y; y++ {
			row := s.a.px[y*b.w+side.Min.X : y*b.w+side.Max.X]
			if len(row) == 0 {
				break
			}
			c := nearer(ground, row[0], row[len(row)-1])
			for x, v := range row {
				if v != ground && v != c && b.px[y*b.w+side.Min.X+x] == v {
					n++
				}
			}
		}
		if n >= 3 && n*4 <= side.Dx()*side.Dy()*3 {
			return true
		}
	}
	return false
}
