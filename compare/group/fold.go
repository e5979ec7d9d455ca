package group

import (
	"fmt"
	"image"
	"runtime"
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
	whole bool   // explained as a whole; not looked at again
	kept  []kept // lines that were not redrawn
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
	strips map[int]bool  // rows of which some look has a part that was not redrawn; nil unless several have such
	moves  []image.Point // displacements that several looks have
	lines  map[line]bool // not redrawn on several looks
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
	k.lines = commonLines(looks)
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

func regionOf(b blob, cause string, d compare.Detail) Region {
	if d == nil {
		d = compare.Detail{}
	}
	return Region{X: b.box.Min.X, Y: b.box.Min.Y, W: b.box.Dx(), H: b.box.Dy(), Pixels: len(b.px), Cause: cause, Detail: d, mask: b.mask}
}

// blob gives the pixels of a region again.
func (r *Region) blob(w int) blob {
	b := blob{box: r.Rect(), mask: r.mask, px: make([]int32, 0, r.Pixels)}
	for _, q := range r.mask {
		for i := q.y*int32(w) + q.x0; i < q.y*int32(w)+q.x1; i++ {
			b.px = append(b.px, i)
		}
	}
	return b
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

func unhex(s string) (c uint32) {
	fmt.Sscanf(s, "#%06x", &c)
	return c
}
