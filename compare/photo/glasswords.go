package photo

import (
	"fmt"
	"image"
	"math"
	"slices"
	"strings"
)

// thick is how many pixels across a fault may be and still be called rows or columns.
const thick = 8

// say adds what was marked on a card.
func (c *check) say(a *strays, mask []bool, card int) {
	w, h := c.o.Geometry.Panel[0], c.o.Geometry.Panel[1]
	rest := slices.Clone(mask)
	rows := across(mask, rest, line{w, 1}, line{h, w})
	columns := across(mask, rest, line{h, w}, line{w, 1})
	var all []image.Rectangle
	for _, r := range rows {
		all = append(all, image.Rect(r[0], r[2], r[1], r[3]))
	}
	for _, r := range columns {
		all = append(all, image.Rect(r[2], r[0], r[3], r[1]))
	}
	for _, b := range append(all, inLine(boxes(rest, w, h))...) {
		shape, what := c.named(b)
		c.g.Dead = append(c.g.Dead, b)
		c.g.Says = append(c.g.Says, fmt.Sprintf("%s, on %s: %s", what, cardNames[card], c.stuck(a, mask, b, shape, card)))
	}
}

// across takes lines that are marked over most of their length out of rest, which they would join to all else that is marked
// on their way: from and to along, from and to across.
func across(mask, rest []bool, along, apart line) (out [][4]int) {
	marked := func(j int) (n, from, to int) {
		from = along.n
		for i := range along.n {
			if mask[j*apart.step+i*along.step] {
				n, from, to = n+1, min(from, i), i+1
			}
		}
		return n, from, to
	}
	for j := 0; j < apart.n; j++ {
		n, from, to := marked(j)
		if n*5 < along.n*3 {
			continue
		}
		last := j + 1
		for ; last < apart.n; last++ {
			m, a, b := marked(last)
			if m*5 < along.n*3 {
				break
			}
			from, to = min(from, a), max(to, b)
		}
		if last-j <= thick {
			out = append(out, [4]int{from, to, j, last})
			// What lies right beside a line is its own light.
			for l := max(0, j-1); l < min(apart.n, last+1); l++ {
				for i := range along.n {
					rest[l*apart.step+i*along.step] = false
				}
			}
		}
		j = last
	}
	return out
}

// inLine joins boxes that are parts of one line.
func inLine(all []image.Rectangle) (out []image.Rectangle) {
	const gap = 2 * stretch
	along := func(a, b image.Rectangle) bool {
		u := a.Union(b)
		return u.Dy() <= 2 && u.Dx() >= stretch && u.Dx()-a.Dx()-b.Dx() <= gap || u.Dx() <= 2 && u.Dy() >= stretch && u.Dy()-a.Dy()-b.Dy() <= gap
	}
	for _, b := range all {
		for again := true; again; {
			again = false
			for i, a := range out {
				// Two pixels that happen to stand in one line are none.
				if max(a.Dx(), a.Dy(), b.Dx(), b.Dy()) >= stretch/2 && along(a, b) {
					b, out, again = a.Union(b), append(out[:i:i], out[i+1:]...), true
					break
				}
			}
		}
		out = append(out, b)
	}
	return out
}

// named gives what a box holds, in words.
func (c *check) named(b image.Rectangle) (shape int, what string) {
	w, h := c.o.Geometry.Panel[0], c.o.Geometry.Panel[1]
	lines := func(name string, from, n int) string {
		if n == 1 {
			return fmt.Sprintf("%s %d", name, from)
		}
		return fmt.Sprintf("%ss %d to %d", name, from, from+n-1)
	}
	switch {
	case b.Dx() > w*9/10 && b.Dy() <= thick:
		return aRow, lines("row", b.Min.Y, b.Dy())
	case b.Dy() > h*9/10 && b.Dx() <= thick:
		return aColumn, lines("column", b.Min.X, b.Dx())
	case b.Dx() >= stretch/2 && b.Dy() <= thick/2:
		return aRow, fmt.Sprintf("part of %s, from column %d to %d", lines("row", b.Min.Y, b.Dy()), b.Min.X, b.Max.X-1)
	case b.Dy() >= stretch/2 && b.Dx() <= thick/2:
		return aColumn, fmt.Sprintf("part of %s, from row %d to %d", lines("column", b.Min.X, b.Dx()), b.Min.Y, b.Max.Y-1)
	case b.Dx() == 1 && b.Dy() == 1:
		return aPixel, fmt.Sprintf("the pixel at %d,%d", b.Min.X, b.Min.Y)
	}
	return anArea, fmt.Sprintf("an area of %dx%d px at %d,%d", b.Dx(), b.Dy(), b.Min.X, b.Min.Y)
}

// stripesNeed is how many photo pixels a panel pixel the colours of a pixel that is dark are told from: the mosaic has each colour half
// as often as it has pixels, so with fewer one may fall between. Light on black needs none beside it to be seen by.
const stripesNeed = 3

// stuck says which colours are missing or stay lit. A colour has to stray half as far as the one that strays
// most, or a third in a pixel, of which the mosaic may show one colour better than another.
func (c *check) stuck(a *strays, mask []bool, b image.Rectangle, shape, card int) string {
	if _, ratio := c.o.Geometry.Ratio(); shape == aPixel && card == whiteCard && ratio < stripesNeed {
		return "it stays dark"
	}
	w := c.o.Geometry.Panel[0]
	var far [allColours]float64
	for i := range far {
		for y := b.Min.Y; y < b.Max.Y; y++ {
			for x := b.Min.X; x < b.Max.X; x++ {
				if k := y*w + x; mask[k] && shape == anArea {
					far[i] += math.Abs(float64(a.left[i][k]))
				} else if mask[k] {
					far[i] += math.Abs(float64(a.of[shape][i][k])) / c.o.Pane.Dead[shape][i]
				}
			}
		}
	}
	enough := 0.5
	if shape == aPixel {
		enough = 0.35
	}
	var names []string
	for i, name := range [allColours]string{"red", "green", "blue"} {
		if far[i] > enough*max(far[0], far[1], far[2]) {
			names = append(names, name)
		}
	}
	switch {
	case card == whiteCard && len(names) == allColours:
		return "it stays dark"
	case card == whiteCard:
		return "it gives no " + strings.Join(names, " and no ")
	case len(names) == allColours:
		return "it stays white"
	}
	return "it shines " + strings.Join(names, " and ")
}

// untold adds what the photos can't tell, from how many photo pixels there are for each of the panel's and from how far light
// strays on a sound panel.
func (c *check) untold() {
	coarse, n := 0, len(c.fine)
	for _, ok := range c.fine {
		if !ok {
			coarse++
		}
	}
	say := func(format string, args ...any) { c.g.Untold = append(c.g.Untold, fmt.Sprintf(format, args...)) }
	_, ratio := c.o.Geometry.Ratio()
	switch {
	case coarse*10 > 9*n:
		say("single pixels can't be told with %.1f photo px a panel px, which takes 2; rows, columns and areas can", ratio)
	case coarse*100 > n:
		say("single pixels can't be told on %d %% of the panel, where there are fewer than 2 photo px a panel px", coarse*100/n)
	}
	if coarse*10 <= 9*n && ratio < stripesNeed {
		say("which colours a single dark pixel lacks can't be told with %.1f photo px a panel px, which takes %d", ratio, stripesNeed)
	}
	p := c.o.Pane
	for shape, name := range [shapes]string{"single pixels", "rows", "columns", "areas"} {
		if shape == aPixel && coarse*10 > 9*n {
			continue
		}
		blind := 0
		all := placesIn[shape][0] * placesIn[shape][1]
		for i := range all {
			for card := range 2 {
				if p.Law[card][shape].limit(usualChance, paneTests)*float64(p.Spread[card][shape][allColours][i]) > p.Faint[shape] {
					blind++
					break
				}
			}
		}
		if blind > 0 {
			say("%s can't be told for sure on %d %% of the panel: moiré or noise is as strong there as what they leave", name, max(1, blind*100/all))
		}
	}
}
