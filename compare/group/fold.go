package group

import (
	"fmt"
	"image"
	"runtime"
	"slices"
	"sync"

	"github.com/fascia-bench/fascia/compare"
)

// look is what is known of a pair between the passes.
type look struct {
	same    bool
	regions []Region
	// rules are colours that seem to have become others, with the pixels that say so; sure are those that
	// package compare named.
	rules map[rule]int
	sure  map[rule]int
	whole bool // explained as a whole; not looked at again
	// peeled is how many of the regions, the first ones, were peeled off, and before what that left to be put
	// right: from these a scene is made again without the work.
	peeled int
	before map[int32]uint32
	first  compare.Result
}

// known is what all looks together say, for each of them to be looked at with.
type known struct {
	rules  []rule        // colours that became others, the commonest first
	common int           // so many of them are from several looks
	moves  []image.Point // displacements that several looks have
	strips map[int]bool  // rows that were not redrawn on some look; nil unless several have such
}

// Fold compares all pairs and folds what differs. Looks are worked on by as many goroutines as there are
// processors; memory grows with the number of regions and not with that of pictures.
func Fold(pairs []Pair) (*Result, error) {
	looks := make([]look, len(pairs))
	if err := each(pairs, func(i int, at *shelf) error { return looks[i].survey(pairs, i, at) }); err != nil {
		return nil, err
	}
	var k known
	k.rules, k.common = commonRules(looks)
	if err := each(pairs, func(i int, at *shelf) error { return looks[i].explain(pairs, i, at, &k) }); err != nil {
		return nil, err
	}
	k.moves, k.strips = commonMoves(looks), staleRows(looks)
	if err := each(pairs, func(i int, at *shelf) error { return looks[i].split(pairs, i, at, &k) }); err != nil {
		return nil, err
	}
	res := &Result{}
	for i := range looks {
		if looks[i].same {
			res.Same++
		}
	}
	res.fold(looks)
	return res, nil
}

// shelf keeps the pair read last, which the next look asks for as its previous one.
type shelf struct {
	index         int
	before, after image.Image
}

func (s *shelf) get(pairs []Pair, i int) (before, after image.Image, err error) {
	if s.before != nil && s.index == i {
		return s.before, s.after, nil
	}
	return pairs[i].Pictures()
}

// read gives a pair and, where it is known and of one size, what the panel showed before.
func (s *shelf) read(pairs []Pair, i int) (before, after, pb, pa image.Image, err error) {
	if k := pairs[i].Previous; k >= 0 && k < len(pairs) && k != i {
		if pb, pa, err = s.get(pairs, k); err != nil {
			return
		}
	}
	if before, after, err = s.get(pairs, i); err != nil {
		return
	}
	s.index, s.before, s.after = i, before, after
	if pb != nil && (pb.Bounds().Size() != before.Bounds().Size() || pa.Bounds().Size() != after.Bounds().Size()) {
		pb, pa = nil, nil
	}
	return
}

// each works through the pairs in stretches, so that neighbours share a shelf.
func each(pairs []Pair, f func(i int, at *shelf) error) error {
	const stretch = 16
	var mu sync.Mutex
	var wg sync.WaitGroup
	next := 0
	errAt, first := len(pairs), error(nil)
	for range min(runtime.GOMAXPROCS(0), len(pairs)) {
		wg.Go(func() {
			for {
				mu.Lock()
				from := next
				next += stretch
				stop := first != nil
				mu.Unlock()
				if from >= len(pairs) || stop {
					return
				}
				at := &shelf{index: -1}
				for i := from; i < min(from+stretch, len(pairs)); i++ {
					if err := f(i, at); err != nil {
						mu.Lock()
						if i < errAt {
							errAt, first = i, err
						}
						mu.Unlock()
						return
					}
				}
			}
		})
	}
	wg.Wait()
	return first
}

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
	return nil
}

// wholeShare is the part of the panel that must differ, one in so many pixels, before a fault of all of it is
// looked for, which takes long.
const wholeShare = 4

// mayBeWhole reports whether the whole panel may be at fault: much of it differs, or it is of one colour.
func (s *scene) mayBeWhole() bool {
	if s.left*wholeShare >= len(s.open) {
		return true
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

func regionOf(b blob, cause string, d compare.Detail) Region {
	if d == nil {
		d = compare.Detail{}
	}
	return Region{X: b.box.Min.X, Y: b.box.Min.Y, W: b.box.Dx(), H: b.box.Dy(), Pixels: len(b.px), Cause: cause, Detail: d, mask: b.mask}
}

func coloursOf(p plane) map[uint32]bool {
	out := map[uint32]bool{}
	last := uint32(1 << 31)
	for _, c := range p.px {
		if c != last {
			out[c] = true
			last = c
		}
	}
	return out
}

func sizeText(s [2]int) string { return fmt.Sprintf("%dx%d", s[0], s[1]) }

func unhex(s string) (c uint32) {
	fmt.Sscanf(s, "#%06x", &c)
	return c
}

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
	s.before, s.left = l.before, count(s.open)
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
	had, lines := coloursOf(s.b), linesOf(regions)
	for k := range regions {
		r := &regions[k]
		r.Seen = s.seen(r)
		b := s.b
		if r.Cause != "recoloured" && r.Cause != "shade" && r.Cause != "stale" {
			b = rest
		}
		s.describe(r, lines[k], b, had)
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
		if cause == "stale" && s.allGround(b) {
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
