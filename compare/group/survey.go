package group

import (
	"fmt"

	"github.com/fascia-bench/fascia/compare"
)

// wholePanel are the causes that speak of all of a panel. Stale parts may be parts, too.
var wholePanel = map[string]bool{"byte-swapped": true, "red-blue-swapped": true, "inverted": true, "rotated": true, "mirrored": true,

	"shifted": true, "sheared": true, "rescaled": true, "tone": true, "fewer-colours": true, "blank": true, "torn": true}

// survey compares a pair as it is.
func (l *look) survey(pairs []Pair, i int, at *shelf) error {
	before, after, pb, pa, err := at.read(pairs, i)
	if err != nil {
		return err
	}
	opt := compare.Options{Ignore: pairs[i].Ignore, Previous: pa, PreviousGolden: pb}
	var s *scene
	if before.Bounds().Size() == after.Bounds().Size() {
		s = newScene(planeOf(before), planeOf(after), pairs[i].Ignore)
		opt.Parts = s.left > 0 && !s.mayBeWhole()
	}
	res := compare.Compare(before, after, opt)
	if l.same = res.Same; l.same {
		return nil
	}
	if len(res.Regions) == 0 { // sizes differ
		b := after.Bounds()
		c := res.Causes[0]
		l.whole = true
		l.regions = []Region{{W: b.Dx(), H: b.Dy(), Pixels: b.Dx() * b.Dy(), Cause: c.Cause, Seen: Yes, Detail: compare.Detail{
			"before": sizeText(res.Size.Golden), "after": sizeText(res.Size.Capture)}}}
		return nil
	}
	if s.left == 0 { // differs in what no panel shows
		l.whole = true
		r := res.Regions[0]
		l.regions = []Region{{X: r.X, Y: r.Y, W: r.W, H: r.H, Pixels: res.Changed, Cause: r.Cause, Detail: r.Detail, Seen: No}}
		return nil
	}
	c := res.Causes[0]
	// What the panel showed before is asked of the scene, which knows what has changed on that look, too.
	known := s.previous(pb, pa) && c.Cause == "torn"
	if wholePanel[c.Cause] && !known && !(c.Cause == "tone" && s.allFaint()) {
		l.whole = true
		l.regions = []Region{s.all(c.Cause, c.Detail)}
		return nil
	}
	l.first = res
	l.sure, l.rules = map[rule]int{}, map[rule]int{}
	for _, r := range res.Regions {
		from, ok := r.Detail["from"].(string)
		to, ok2 := r.Detail["to"].(string)
		if k := (rule{unhex(from), unhex(to)}); ok && ok2 && r.Cause == "recoloured" && step(k.from, k.to) > faintStep && s.becomes(k, r.Rect()) {
			l.sure[k] += r.W * r.H
		}
	}
	for i, o := range s.open {
		if o {
			l.rules[rule{s.b.px[i], s.a.px[i]}]++
		}
	}
	for r, n := range l.rules {
		if n < 48 || step(r.from, r.to) <= faintStep || !s.becomes(r, s.b.rect()) {
			delete(l.rules, r)
		}
	}
	s.recolours = map[rule]bool{}
	for _, list := range [2]map[rule]int{l.rules, l.sure} {
		for r := range list {
			s.recolours[r] = true
		}
	}
	s.seam() // on one side of it all lines show the previous look
	l.kept = s.keptLines(nil)
	return nil
}

// wholeShare is the part of the panel that must differ, one in so many pixels, before a fault of all of it is
// looked for, which takes long.
const wholeShare = 4

// mayBeWhole reports whether the whole panel may be at fault: much of it differs by more than a step, or half of it at
// all, or it is of one colour.
func (s *scene) mayBeWhole() bool {
	if s.left*2 >= len(s.open) {
		return true
	}
	if s.left*wholeShare >= len(s.open) {
		bold := 0
		for i, o := range s.open {
			if o && step(s.b.px[i], s.a.px[i]) > faintStep {
				bold++
			}
		}
		if bold*wholeShare >= len(s.open) {
			return true
		}
	}
	for _, c := range s.a.px {
		if c != s.a.px[0] {
			return false
		}
	}
	return true
}

func parts(opt compare.Options) compare.Options {
	opt.Parts = true
	return opt
}

// all is one region of every differing pixel.
func (s *scene) all(cause string, d compare.Detail) Region {
	var b blob
	for _, q := range blobs(s.open, s.b.w, s.b.h, 5) {
		b.box = b.box.Union(q.box)
		b.mask = append(b.mask, q.mask...)
		b.px = append(b.px, q.px...)
	}
	r := regionOf(b, cause, d)
	r.Seen = s.see(r.mask, r.Pixels)
	s.describe(&r, r.Rect(), s.b, coloursOf(s.b))
	return r
}

func sizeText(s [2]int) string { return fmt.Sprintf("%dx%d", s[0], s[1]) }
