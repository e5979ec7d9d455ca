package group

import (
	"slices"

	"github.com/fascia-bench/fascia/compare"
)

// What follows joins, within one look, what is left over with the larger change that it is a part of. None of it is more
// than some pixels, or else it lies where a larger fault shows another picture anyway.

// crumbPixels is how large what is left over of a letter or of an icon is at most.
const crumbPixels = 6

// crumbs gives little that is left over to the larger change that it is a part of: rims within what is new or
// gone, and further words of a line that is cut short.
func crumbs(all []*placed) {
	for _, p := range all {
		if p.r.Pixels <= crumbPixels && p.inLetters(all) {
			continue
		}
		for _, q := range all {
			if p == q || q.r.Cause != "missing" && q.r.Cause != "added" && q.r.Cause != "moved" && q.r.Cause != "recoloured" {
				continue
			}
			little := p.r.Cause != q.r.Cause && p.r.Pixels <= 12 && q.r.Pixels >= 10*p.r.Pixels && p.r.Rect().In(q.r.Rect()) && (q.r.Cause == "missing" || q.r.Cause == "added") ||
				(p.faint() || p.r.Cause == "edges") && p.r.Pixels <= crumbPixels && q.r.Pixels >= 10*p.r.Pixels && p.r.Rect().In(q.r.Rect()) && q.r.Cause == "recoloured" ||
				(unsure(p.r.Cause) && q.r.Pixels >= 10*p.r.Pixels || p.underStrip(all)) && p.r.Pixels <= crumbPixels && p.r.Rect().Overlaps(q.r.Rect().Inset(-2)) && q.r.Cause == "moved"
			words := p.r.Cause == "missing" && !p.r.feat.cut && q.r.feat.cut && p.r.H <= tallest && inLine(p.r.Rect(), q.r.Rect())
			if little {
				p.r.Cause, p.r.Detail, p.r.feat = q.r.Cause, q.r.Detail, q.r.feat
			}
			if words {
				p.r.feat.cut = true
			}
			if little || words {
				p.with = q
				break
			}
		}
	}
}

// inLetters gives a dot or a stem to the line of text drawn with other edges that it is of, and reports whether it did.
func (p *placed) inLetters(all []*placed) bool {
	for _, q := range all {
		if p != q && q.r.feat.line && !p.r.feat.line &&
			((unsure(p.r.Cause) || p.r.Cause == "edges") && p.r.Rect().Overlaps(q.r.Rect().Inset(-6)) || p.r.Cause == "recoloured" && p.r.Rect().In(q.r.Rect())) {
			p.r.Cause, p.r.Detail, p.r.feat = "edges", compare.Detail{}, q.r.feat
			return true
		}
	}
	return false
}

// underStrip reports whether what is gone or new lies by a strip that was not redrawn: where it went, or came from, cannot
// be seen there.
func (p *placed) underStrip(all []*placed) bool {
	if c := p.r.Cause; c != "missing" && c != "added" && !unsure(c) {
		return false
	}
	return slices.ContainsFunc(all, func(q *placed) bool {
		return q != p && q.r.Cause == "stale" && q.r.H <= 2 && q.r.Rect().Overlaps(p.r.Rect().Inset(-2))
	})
}

// faint reports whether a colour became another that is next to it.
func (p *placed) faint() bool {
	from, _ := p.r.Detail["from"].(string)
	to, _ := p.r.Detail["to"].(string)
	return p.r.Cause == "recoloured" && step(unhex(from), unhex(to)) <= 2*faintStep
}

// join gives a region to the change of another on its look.
func (p *placed) join(q *placed) {
	p.r.Cause, p.r.Detail, p.r.feat, p.with = q.r.Cause, q.r.Detail, q.r.feat, q
}

// inTear gives what is unexplained on the torn side of a picture to the tear: all that stands there is of another look.
func inTear(all []*placed) {
	for _, t := range all {
		if t.r.Cause != "torn" {
			continue
		}
		for _, p := range all {
			c, rows := p.r.Cause, p.r.Y >= t.r.Y-2 && p.r.Y+p.r.H <= t.r.Y+t.r.H+2
			if p != t && rows && (unsure(c) || c == "added" || c == "missing" || (c == "recoloured" || c == "edges") && p.r.Pixels <= 3*rimPixels) {
				p.join(t)
			}
		}
	}
}

// boxes takes for a new box what is now for the most part of a colour that was hardly there, whatever it was taken for
// by its outline.
func boxes(all []*placed) {
	for _, p := range all {
		f := p.r.feat
		if unsure(p.r.Cause) && f.swamped >= 0.5 && step(f.inkA, f.ground) >= 64 {
			p.r.Cause, p.r.Detail = "added", compare.Detail{}
		}
	}
}

// inBox gives to a box that came to stand somewhere what else came with it: holes that the same fill closed, and its
// further parts.
func inBox(all []*placed) {
	for _, q := range all {
		if q.r.Cause != "added" || q.with != nil {
			continue
		}
		fill := hex(q.r.feat.inkA)
		for _, p := range all {
			if p == q || p.with != nil || p.r.Pixels > q.r.Pixels || p.r.Pixels == q.r.Pixels && p.r.X > q.r.X || !p.r.Rect().Overlaps(q.r.Rect().Inset(-12)) {
				continue
			}
			closed := p.r.Cause == "recoloured" && p.r.Detail["to"] == fill && p.r.feat.groundTo
			part := p.r.Cause == "added" && hex(p.r.feat.inkA) == fill
			rim := p.r.Cause == "recoloured" && p.r.Pixels*4 <= q.r.Pixels && p.r.Rect().In(q.r.Rect()) // of letters that stand on it
			if closed || part || rim {
				p.join(q)
			}
		}
	}
}

// rimPixels is how large the rims of a letter, or of a few, may be in one colour.
const rimPixels = 24

// rims gives a pair of colours that nowhere makes more than the rim of a letter to the text that it lies on, or to the
// recolouring of what shows through it.
func rims(all []*placed) {
	largest := map[string]int{}
	pair := func(p *placed) string { return hexes(p.r.Detail) }
	for _, p := range all {
		if p.r.Cause == "recoloured" {
			largest[pair(p)] = max(largest[pair(p)], p.r.Pixels)
		}
	}
	byLook := looksOf(all)
	for _, p := range all {
		if p.r.Cause != "recoloured" || largest[pair(p)] > rimPixels {
			continue
		}
		var best *placed
		for _, q := range byLook[p.look] {
			text := q.r.Cause == "moved" || q.r.Cause == "edges" && q.r.feat.text
			through := q.r.Cause == "recoloured" && pair(q) != pair(p) && ruleOf(p.r).tintOf(ruleOf(q.r))
			if (text || through) && q.with == nil && q.r.Pixels >= p.r.Pixels && p.r.Rect().Overlaps(q.r.Rect().Inset(-3)) && (best == nil || q.r.Pixels > best.r.Pixels) {
				best = q
			}
		}
		if best == nil && min(p.r.W, p.r.H) <= 2 && p.r.feat.beside { // a stem, in a word whose other letters stayed
			best = drawnText(byLook[p.look])
		}
		if best != nil {
			p.join(best)
		}
	}
}

// tintOf reports whether a pair of colours is another one seen through something, or next to it.
func (r rule) tintOf(q rule) bool {
	return step(r.from, q.from) <= 2*faintStep && step(r.to, q.to) <= 2*faintStep || mixed(r.from, r.to, q, 14)
}

// drawnText gives text of a look that is drawn with other edges, or nil.
func drawnText(own []*placed) *placed {
	for _, q := range own {
		if q.r.Cause == "edges" && q.r.feat.text && q.with == nil {
			return q
		}
	}
	return nil
}

func hexes(d compare.Detail) string {
	from, _ := d["from"].(string)
	to, _ := d["to"].(string)
	return from + to
}

// inLines gives what has other edges within a line of text to that text.
func inLines(all []*placed) {
	for _, p := range all {
		if p.r.Cause != "edges" || p.r.feat.text {
			continue
		}
		for _, q := range all {
			a, b := p.r.Rect(), q.r.Rect()
			if p != q && q.r.Cause == "edges" && q.r.feat.line && p.r.figureOf(q.r) {
				p.r.feat.text = true
				break
			}
			if p == q || q.with != nil || !q.r.feat.text || !inLine(a, b) {
				continue
			}
			rim := q.r.Cause == "moved" && p.r.Pixels*4 <= q.r.Pixels && a.Overlaps(b.Inset(-3)) && a.Min.Y >= b.Min.Y-1 && a.Max.Y <= b.Max.Y+1
			if rim {
				p.join(q)
				break
			}
			if q.r.Cause == "edges" || q.r.Cause == "moved" {
				p.r.feat.text = true
				break
			}
		}
	}
}

// figureOf reports whether a region is as large as a letter, has strokes, and stands in the rows of a line of text, however
// far off: the figure at the end of a row.
func (r *Region) figureOf(line *Region) bool {
	return inRows(r.Rect(), line.Rect()) && r.H >= 8 && 4*r.H <= 5*line.H && 2*r.W <= 3*r.H && 2*r.feat.massB <= (r.W+2)*(r.H+2)
}

// chancePixels is how many pixels in a row may be by chance as they were.
const chancePixels = 12

// chances gives a few pixels that are by chance as they were on the look before to the moved content, or the line of
// text drawn with other edges, that they lie on, unless more of their row was not redrawn.
func chances(all []*placed) {
	var stale []Region
	for _, p := range all {
		if p.r.Cause == "stale" {
			stale = append(stale, *p.r)
		}
	}
	rows := strippedRows(stale) // of all that is in a row
	for _, p := range all {
		if p.r.kept || p.r.Cause != "stale" || p.r.Pixels > chancePixels && (!p.r.mayBeChance() || p.r.hasRow(rows)) {
			continue
		}
		var on *placed
		strip := false
		for _, q := range all {
			strip = strip || q != p && q.r.Cause == "stale" && q.r.Pixels > chancePixels && q.r.Y < p.r.Y+p.r.H && p.r.Y < q.r.Y+q.r.H
			lies := q.r.Cause == "moved" && q.r.Pixels >= 10*p.r.Pixels || q.r.Cause == "edges" && q.r.feat.line && q.r.Pixels >= 5*p.r.Pixels && !p.r.hasRow(rows)
			if lies && q.with == nil && p.r.Rect().Overlaps(q.r.Rect().Inset(-2)) {
				on = q
			}
		}
		if on != nil && !strip {
			p.join(on)
		}
	}
}

func looksOf(all []*placed) map[int][]*placed {
	out := map[int][]*placed{}
	for _, p := range all {
		out[p.look] = append(out[p.look], p)
	}
	return out
}
