package group

import (
	"image"
	"slices"

	"github.com/fascia-bench/fascia/compare"
)

// commonRules are the recolourings by which looks are peeled: those that package compare named, and
// pairs of colours that many looks have and that stand for whole shapes (which is asked when they are
// applied). Of two rules from one colour, the commoner comes first; the first so many are from several looks.
func commonRules(looks []look) (rules []rule, common int) {
	votes, seen := map[rule]int{}, map[rule]int{}
	for _, l := range looks {
		for r := range l.sure {
			votes[r] += 4
		}
		for r := range l.rules {
			seen[r]++
		}
	}
	for r, n := range seen {
		if n >= 3 && 2*seen[rule{r.to, r.from}] < n { // both ways: something moved
			votes[r] += n
		}
	}
	var out []rule
	for r := range votes {
		out = append(out, r)
	}
	slices.SortFunc(out, func(a, b rule) int {
		if d := votes[b] - votes[a]; d != 0 {
			return d
		}
		if a.from != b.from {
			return int(a.from) - int(b.from)
		}
		return int(a.to) - int(b.to)
	})
	out = out[:min(len(out), 64)]
	for common < len(out) && votes[out[common]] >= 8 {
		common++
	}
	return out, common
}

// peel lays a pair out and peels off what can be told pixel by pixel.
func (l *look) peel(pairs []Pair, i int, at *shelf, known *known) (s *scene, regions []Region, opt compare.Options, err error) {
	before, after, pb, pa, err := at.read(pairs, i)
	if err != nil {
		return nil, nil, opt, err
	}
	s = newScene(planeOf(before), planeOf(after), pairs[i].Ignore)
	opt = compare.Options{Ignore: pairs[i].Ignore, Previous: pa, PreviousGolden: pb}
	s.previous(pb, pa)
	add := func(list []blob, cause string, d compare.Detail) {
		for _, b := range list {
			regions = append(regions, regionOf(b, cause, d))
		}
	}
	if side, cause, row := s.seam(); side != nil {
		d := compare.Detail{}
		if cause == "torn" {
			d["row"] = row
		}
		r := regionOf(blob{}, cause, d)
		var box image.Rectangle
		for _, b := range side {
			box = box.Union(b.box)
			r.mask = append(r.mask, b.mask...)
			r.Pixels += len(b.px)
		}
		r.X, r.Y, r.W, r.H = box.Min.X, box.Min.Y, box.Dx(), box.Dy()
		regions = append(regions, r)
	}
	s.recolours = map[rule]bool{}
	for _, r := range known.rules[:known.common] {
		s.recolours[r] = true
	}
	l.kept = s.keptLines(known.lines)
	s.hidden = hide(l.kept, s.a)
	add(s.keep(l.kept), "stale", nil)
	for k := range regions {
		regions[k].kept = regions[k].Cause == "stale"
	}
	add(s.stale(known.rules[:known.common]), "stale", nil)
	regions = append(regions, s.carriedOff(s.b)...)
	byRule := s.recolour(known.rules)
	for _, r := range known.rules {
		for _, b := range byRule[r] {
			if groundOf(s.a, s.b, b.box) == r.from { // the ground around stayed: something came to stand there
				add([]blob{b}, "added", nil)
				continue
			}
			add([]blob{b}, "recoloured", compare.Detail{"from": hex(r.from), "to": hex(r.to)})
		}
	}
	if len(byRule) > 0 {
		regions = append(regions, s.carriedOff(s.rest())...)
	}
	add(s.faint(), "shade", nil)
	return s, regions, opt, nil
}

// again makes the scene that peeling left.
func (l *look) again(pairs []Pair, i int, at *shelf) (*scene, error) {
	before, after, err := at.get(pairs, i)
	if err != nil {
		return nil, err
	}
	s := newScene(planeOf(before), planeOf(after), pairs[i].Ignore)
	for _, r := range l.regions[:l.peeled] {
		for _, q := range r.mask {
			clear(s.open[int(q.y)*s.b.w+int(q.x0) : int(q.y)*s.b.w+int(q.x1)])
		}
	}
	s.before, s.left, s.hidden = l.before, count(s.open), hide(l.kept, s.a)
	return s, nil
}

// explain peels a pair and names the causes of the rest.
func (l *look) explain(pairs []Pair, i int, at *shelf, known *known) error {
	if l.same || l.whole {
		return nil
	}
	s, regions, opt, err := l.peel(pairs, i, at, known)
	if err != nil {
		return err
	}
	l.peeled, l.before = len(regions), s.before
	rest := s.rest()
	switch {
	case len(regions) == 0:
		regions = s.named(l.first)
	case s.left > 0:
		regions = append(regions, s.named(compare.Compare(rest.image(), s.a.image(), parts(opt)))...)
	}
	l.first = compare.Result{}
	s.comeAlong(regions, rest, true)
	had, lines := coloursOf(s.b), linesOf(regions)
	for k := range regions {
		r := &regions[k]
		r.Seen = s.seen(r)
		b := s.b
		if r.Cause != "recoloured" && r.Cause != "shade" && r.Cause != "stale" {
			b = rest
		}
		s.describe(r, lines[k], b, had)
		if r.Cause == "recoloured" && r.Pixels <= rimPixels {
			r.feat.beside = s.stays(rest, r.Rect(), r.feat.ground)
		}
	}
	l.regions = regions
	return nil
}

// named gives the regions of a comparison the pixels that are still open.
func (s *scene) named(res compare.Result) []Region {
	if len(res.Causes) > 0 && wholePanel[res.Causes[0].Cause] {
		// The panel as it was captured has no such fault: it is too little of it that is left.
		var out []Region
		for _, b := range blobs(s.open, s.b.w, s.b.h, 5) {
			out = append(out, s.explainAlone(b, s.rest()))
		}
		return out
	}
	byBox := map[image.Rectangle][]compare.Region{}
	for _, r := range res.Regions {
		byBox[r.Rect()] = append(byBox[r.Rect()], r)
	}
	var out []Region
	for _, b := range blobs(s.open, s.b.w, s.b.h, 5) {
		cause, detail := "other", compare.Detail{}
		if list := byBox[b.box]; len(list) > 0 {
			cause, detail = list[0].Cause, list[0].Detail
			if in := list[0].Instead; cause == "stale" && len(b.px) < 60 && len(in) > 0 && b.box.Dy() > 2 {
				cause, detail = in[0].Cause, in[0].Detail // so few pixels may be as they were by chance
			}
			byBox[b.box] = list[1:]
		}
		if from, ok := detail["from"].(string); ok && cause == "recoloured" && from == hex(groundOf(s.a, s.b, b.box)) {
			cause, detail = "added", compare.Detail{} // the ground around stayed: something came to stand there
		}
		if cause == "stale" && (s.allGround(b) || b.box.Dy() <= 3 && s.bare(b)) {
			cause = "missing" // that nothing stood there before either is no reason
		}
		out = append(out, regionOf(b, cause, detail))
	}
	return out
}

// allGround reports whether what is there now is but the ground around.
func (s *scene) allGround(b blob) bool {
	if min(b.box.Dx(), b.box.Dy()) <= 3 {
		return false
	}
	ground, n := groundOf(s.a, s.b, b.box), 0
	for _, i := range b.px {
		if s.a.px[i] == ground {
			n++
		}
	}
	return n*20 >= len(b.px)*19
}
