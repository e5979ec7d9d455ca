package group

import (
	"fmt"
	"image"
	"image/draw"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"github.com/fascia-bench/fascia/compare"
)

// A play is a set of looks with some of the changes.
type play struct {
	seed   uint64
	stages []stage
	on     [allChanges]bool
}

// newPlay draws looks in walks of eight, and 5 to 12 changes, defects among them.
func newPlay(seed uint64, looks int) *play {
	rng := rand.New(rand.NewPCG(seed, 1))
	p := &play{seed: seed}
	n := 5 + rng.IntN(8)
	order := rng.Perm(allChanges)
	defects := 0
	for _, c := range order {
		if n == 0 {
			break
		}
		p.on[c] = true
		n--
		if defect(c) {
			defects++
		}
	}
	if defects == 0 {
		p.on[lost] = true
	}
	for i := range looks {
		s := stage{kind: rng.IntN(4), seed: rng.Uint64(), walk: i / 8, second: i%8 != 0}
		for c := clip; c < allChanges; c++ {
			// A sixth of the looks would have a defect, as a defect depends on what is shown.
			s.bad[c] = rng.IntN(6) == 0
		}
		s.bad[torn] = s.second && (i == looks/3 || i == looks*2/3)
		s.bad[strip] = s.bad[strip] && s.second
		p.stages = append(p.stages, s)
	}
	return p
}

// look draws look i with some changes on, and what its surroundings do to it.
func (p *play) look(i int, on [allChanges]bool) *image.RGBA {
	s := &p.stages[i]
	m := s.paint(on)
	if !s.second || !(on[strip] && s.bad[strip] || on[torn] && s.bad[torn]) {
		return m
	}
	was := p.look(i-1, on)
	if on[strip] && s.bad[strip] {
		draw.Draw(m, image.Rect(0, 170, sceneW, 171), was, image.Pt(0, 170), draw.Src)
		draw.Draw(m, image.Rect(0, 81, sceneW, 82), was, image.Pt(0, 81), draw.Src)
	}
	if on[torn] && s.bad[torn] {
		row := 60 + int(s.seed%120)
		draw.Draw(m, image.Rect(0, row, sceneW, sceneH), was, image.Pt(0, row), draw.Src)
	}
	return m
}

func (p *play) pairs() []Pair {
	out := make([]Pair, len(p.stages))
	for i := range out {
		out[i].Previous = -1
		if p.stages[i].second {
			out[i].Previous = i - 1
		}
		out[i].Pictures = func() (before, after image.Image, err error) {
			return p.look(i, [allChanges]bool{}), p.look(i, p.on), nil
		}
	}
	return out
}

// truth gives for each pixel of a look the changes that altered it, as bits: those that alter it alone, and
// those without which it would be another. It tells the differing pixels, too.
func (p *play) truth(i int) []uint32 {
	before, all := p.look(i, [allChanges]bool{}), p.look(i, p.on)
	out := make([]uint32, sceneW*sceneH)
	for c := range allChanges {
		if !p.on[c] {
			continue
		}
		var only [allChanges]bool
		only[c] = true
		without := p.on
		without[c] = false
		a, b := p.look(i, only), p.look(i, without)
		for k := range out {
			at := func(m *image.RGBA) [3]uint8 { return [3]uint8(m.Pix[4*k : 4*k+3]) }
			if at(before) != at(all) && (at(a) != at(before) || at(b) != at(all)) {
				out[k] |= 1 << c
			}
		}
	}
	return out
}

// outcome of a play.
type outcome struct {
	regions, right  int
	found, true     int // groups, and singles whose change is in none; changes
	stray           int // further singles: pieces of what is in a group, told once more
	hidden, defects int // looks with a defect of which nothing is left; such looks
}

func (p *play) run(t *testing.T) outcome {
	t.Helper()
	res, err := Fold(p.pairs())
	if err != nil {
		t.Fatal(err)
	}
	truths := make([][]uint32, len(p.stages))
	var on [allChanges]bool
	for i := range truths {
		truths[i] = p.truth(i)
		for _, v := range truths[i] {
			for c := range allChanges {
				on[c] = on[c] || v>>c&1 == 1
			}
		}
	}
	var o outcome
	for c, is := range on {
		switch {
		case is && c == torn:
			for i := range p.stages { // each at a row of its own
				if p.stages[i].bad[torn] {
					o.true++
				}
			}
		case is:
			o.true++
		}
	}
	inGroup := map[int]bool{} // changes that a group of several looks has
	var alone []int
	style := false         // whether a group of restyling was met
	label := map[int]int{} // of a group by rank: the change that most of its pixels have
	for _, g := range res.All() {
		var weight [allChanges]int
		for _, m := range g.Members {
			for _, r := range m.Regions {
				for c, n := range labelsIn(truths[m.Look], r) {
					weight[c] += n
				}
			}
		}
		most, best := slices.Max(weight[:]), 0
		for c := range allChanges {
			if 20*weight[c] >= 19*most { // what was cut off of something that also moved is cut off
				best = c
			}
		}
		label[g.Rank] = best
		if len(g.Members) > 1 {
			o.found++
			inGroup[best] = true
		} else {
			alone = append(alone, best)
		}
		switch g.Cause {
		case "recoloured", "moved", "edges", "shade":
			style = style || !defect(best)
		}
		if style && defect(best) && g.Seen == Yes {
			t.Errorf("seed %d: a defect stands below restyling: %s", p.seed, g.Says)
		}
		for _, m := range g.Members {
			for _, r := range m.Regions {
				o.regions++
				if n := labelsIn(truths[m.Look], r)[best]; 2*n >= r.Pixels {
					o.right++
				} else if os.Getenv("FASCIA_TELL") != "" {
					t.Logf("seed %d look %d: %s %v in %q (%d), of %v", p.seed, m.Look, r.Cause, r.Rect(), g.Says, best, labelsIn(truths[m.Look], r))
				}
			}
		}
		if os.Getenv("FASCIA_TELL") != "" { // to look at what came out
			t.Logf("%3d %-11s change %2d %s", g.Rank, g.Seen, best, g.Says)
		}
	}
	for _, c := range alone {
		if inGroup[c] {
			o.stray++
		} else {
			o.found++
		}
	}
	// With all groups of restyling approved, most of each defect must be left. What has no cause is no group
	// that a person approves unseen.
	for i := range p.stages {
		own := 0
		isDefect := make([]bool, sceneW*sceneH)
		for k, v := range truths[i] {
			if v>>clip != 0 && v&(1<<clip-1) == 0 { // the defect alone
				isDefect[k] = true
				own++
			}
		}
		if own < 24 { // what a defect altered that nobody sees
			continue
		}
		o.defects++
		before, after := p.look(i, [allChanges]bool{}), p.look(i, p.on)
		_, held := res.Left(i, before, after, func(g *Group) bool { return !defect(label[g.Rank]) && g.Cause != "other" }, compare.Options{})
		left := 0
		m := planeOf(held)
		a := planeOf(after)
		for k, d := range isDefect {
			if d && m.px[k] != a.px[k] {
				left++
			}
		}
		if 2*left < own {
			o.hidden++
			t.Logf("seed %d look %d: %d of %d px of a defect are left", p.seed, i, left, own)
		}
	}
	return o
}

// labelsIn counts the pixels of a region by change.
func labelsIn(truth []uint32, r Region) (out [allChanges]int) {
	for _, q := range r.mask {
		for x := q.x0; x < q.x1; x++ {
			v := truth[int(q.y)*sceneW+int(x)]
			for c := range allChanges {
				out[c] += int(v >> c & 1)
			}
		}
	}
	return out
}

// Sets of looks with 5 to 12 changes over each other: regions come to their groups, and no defect goes with what
// was meant. Over all sets 95 of 100 regions must be right, and there are as many groups as changes, to within a fifth.
// Pieces remain that stand alone, most where two changes meet in one word: they add to what is looked at and hide nothing,
// and are fewer than one for fifty looks.
//
// Sets 1 to 9 were looked at when the rules were made, sets 10 to 15 were not: those judge them.
//
// In FASCIA_LONG the looks are 1,000 a set, or FASCIA_LOOKS; with FASCIA_LONG=held-out the sets are 10 to 15. Else there are
// some looks of each of the first nine. A walk has eight looks. -run TestChangesOverEachOther/seed_3 takes one set, which is
// then judged alone.
func TestChangesOverEachOther(t *testing.T) {
	looks, first, last := 32, uint64(1), uint64(9)
	switch os.Getenv("FASCIA_LONG") {
	case "":
	case "held-out":
		looks, first, last = 1000, 10, 15
	default:
		looks = 1000
	}
	if v := os.Getenv("FASCIA_LOOKS"); v != "" {
		if _, err := fmt.Sscan(v, &looks); err != nil {
			t.Fatalf("FASCIA_LOOKS is no number: %v", err)
		}
	}
	var sum outcome
	sets := 0
	for seed := first; seed <= last; seed++ {
		t.Run(fmt.Sprintf("seed %d", seed), func(t *testing.T) {
			sets++
			p := newPlay(seed, looks)
			o := p.run(t)
			t.Logf("seed %d: %d of %d regions in the right group, %d groups for %d changes and %d pieces, %d of %d looks with a hidden defect", seed, o.right, o.regions, o.found, o.true, o.stray, o.hidden, o.defects)
			if o.hidden > 0 {
				t.Errorf("seed %d: of %d looks a defect went with what was approved", seed, o.hidden)
			}
			if o.found*2 > o.true*3 || o.found*5 < o.true*4 {
				t.Errorf("seed %d: %d groups for %d changes", seed, o.found, o.true)
			}
			sum.found += o.found
			sum.true += o.true
			sum.stray += o.stray
			sum.defects += o.defects
			sum.regions += o.regions
			sum.right += o.right
		})
	}
	if sum.right*100 < sum.regions*95 {
		t.Errorf("only %d of %d regions are in the right group", sum.right, sum.regions)
	}
	if sum.found*5 > sum.true*6 || sum.found*5 < sum.true*4 {
		t.Errorf("%d groups for %d changes", sum.found, sum.true)
	}
	if sum.stray*50 > sets*looks {
		t.Errorf("%d pieces stand alone on %d looks", sum.stray, sets*looks)
	}
	if sum.defects < 2*sets || sum.regions < 80*sets {
		t.Errorf("too little was looked at: %+v", sum)
	}
}
