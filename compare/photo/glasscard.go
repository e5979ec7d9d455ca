package photo

import (
	"fmt"
	"image"
	"math"
	"slices"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// CardNamed gives a card of the glass: white, black or quarters, which are of four colours.
func CardNamed(w, h int, name string) image.Image {
	if name == "quarters" {
		return exact(rectify.Quarters(w, h))
	}
	return cardOf(w, h, name == "white")
}

// A guess is something that a glass may do to a card.
type guess struct {
	says   string
	at     func(x, y int) (int, int) // where what is seen at x, y stands on the card
	order  [3]int                    // which of the card's colours each of the panel's shows
	invert bool
}

// farOff is by how many pixels a picture may stand beside where it belongs and still be told.
const farOff = 4

// guesses are all that are tried on a panel.
func guesses(w, h int) (all []guess) {
	same := func(x, y int) (int, int) { return x, y }
	usual := [3]int{0, 1, 2}
	all = append(all,
		guess{"red and blue are exchanged on the glass", same, [3]int{2, 1, 0}, false},
		guess{"red and green are exchanged on the glass", same, [3]int{1, 0, 2}, false},
		guess{"green and blue are exchanged on the glass", same, [3]int{0, 2, 1}, false},
		guess{"the glass shows green as red, blue as green and red as blue", same, [3]int{1, 2, 0}, false},
		guess{"the glass shows blue as red, red as green and green as blue", same, [3]int{2, 0, 1}, false},
		guess{"the glass shows every colour's complement", same, usual, true},
		guess{"the glass shows the complement, and red and blue exchanged", same, [3]int{2, 1, 0}, true},
		guess{"the picture stands upside down on the glass", func(x, y int) (int, int) { return w - 1 - x, h - 1 - y }, usual, false},
		guess{"left and right are exchanged on the glass", func(x, y int) (int, int) { return w - 1 - x, y }, usual, false},
		guess{"top and bottom are exchanged on the glass", func(x, y int) (int, int) { return x, h - 1 - y }, usual, false})
	if w == h {
		all = append(all,
			guess{"the picture is turned clockwise on the glass", func(x, y int) (int, int) { return y, h - 1 - x }, usual, false},
			guess{"the picture is turned anticlockwise on the glass", func(x, y int) (int, int) { return w - 1 - y, x }, usual, false})
	}
	for dy := -farOff; dy <= farOff; dy++ {
		for dx := -farOff; dx <= farOff; dx++ {
			if dx != 0 || dy != 0 {
				all = append(all, guess{fmt.Sprintf("the picture stands %d,%d px off on the glass", dx, dy), func(x, y int) (int, int) { return x - dx, y - dy }, usual, false})
			}
		}
	}
	return all
}

// screen is a card as the guess has it. Of what lies off the card its border is taken.
func (q *guess) screen(s *screen, o *Optics) *screen {
	out := &screen{w: s.w, h: s.h, stride: s.stride}
	for c := range out.light {
		out.light[c], out.vary[c] = make([]float32, len(s.light[c])), make([]float32, len(s.light[c]))
		from := s.light[q.order[c]]
		for y := range s.h {
			for x := range s.w {
				i, j := q.at(x, y)
				l := from[s.at(min(max(i, 0), s.w-1), min(max(j, 0), s.h-1))]
				if q.invert {
					l = o.Tones[c][255] - l // which is exact for cards of full colours
				}
				out.light[c][out.at(x, y)] = l
			}
		}
	}
	return out
}

// CheckCard holds a photo of a card against what the card's dump says, for faults of the glass: colour order,
// inversion, offset, rotation. It returns the fault in words, or nothing. Each guess is predicted as it would look
// through this bench; one is believed if the photo is clearly more like it than like the card, in those parts of the panel where
// the two differ. Of a sound panel no photo is, whatever its moiré: it would have to stray by half of such a difference
// all over.
func (o *Optics) CheckCard(card, photo image.Image) (string, error) {
	res, err := o.Compare(card, photo, Options{})
	if err != nil && !IsNoCapture(err) {
		return "", err
	}
	if o.Pane == nil {
		return "", errOldOptics
	}
	g := &o.Geometry
	if s := photo.Bounds().Size(); s.X != g.Photo[0] || s.Y != g.Photo[1] {
		return "", err
	}
	s := o.screenOf(card)
	v, ok := o.restingAt(rectify.NewPhoto(photo), s)
	if !ok {
		return "", noCapture("part of the panel lies off the photo")
	}
	if err == nil && v.misses() < asNoise && v.bordersLit() {
		return "", nil // all is as predicted, and the panel ends where its picture does
	}
	seen, was := coarse(&v.seen.Light, s.w, s.h), o.coarsely(s, v.Move, false)
	says, share, best := "", 1.0, 0.0
	is := s
	for _, q := range guesses(s.w, s.h) {
		would := q.screen(s, o)
		as, but := likenesses(seen, was, o.coarsely(would, v.Move, false))
		if gain := as - but; gain > best {
			best, says, share, is = gain, q.says, but/as, would
		}
	}
	const unexplained = 0.7 // of the misfit, at most: a photo's light may drift by a part of that
	if share > unexplained {
		says, is = "", s
	}
	if says == "" && (err != nil || res.Same) {
		return "", err
	}
	if x, y, n := strange(seen, o.coarsely(is, v.Move, true), o.coarsely(is, v.Move, false)); n > 0 {
		return fmt.Sprintf("the glass shows something else than the dump, such as around %d,%d", x, y), nil
	}
	return says, nil
}

// restingAt samples a card's photo where its panel stands, not its picture. Where the picture was found is that if all four of the panel's
// borders are lit there, or if moiré is as predicted and the rig need not have been bumped for it; else it is where the rig stood in the mean.
func (o *Optics) restingAt(p *rectify.Photo, s *screen) (*sight, bool) {
	rest := o.Pane.Rest
	if v, ok := o.lookAtCard(p, s); ok && (v.bordersLit() || v.misses() < asNoise && math.Hypot(v.Move.X-rest.X, v.Move.Y-rest.Y) < wanders) {
		return v, true
	}
	return o.lookStill(p, s, rest)
}

// bordersLit reports whether the outermost pixels of each side give about the light that is predicted there.
func (v *sight) bordersLit() bool {
	const about = 0.2
	w, h := v.seen.Width, v.seen.Height
	side := func(first, step, n int) bool {
		var lacks, want float64
		for c := range v.want {
			for i := range n {
				k := first + i*step
				lacks, want = lacks+float64(v.want[c][k]-v.seen.Light[c][k]), want+float64(v.want[c][k])
			}
		}
		return math.Abs(lacks) < about*want
	}
	return side(0, 1, w) && side((h-1)*w, 1, w) && side(0, w, h) && side(w-1, w, h)
}

// block is the side of the parts in which a card is looked at, in panel pixels. Over one most moiré averages out.
const block = 4

// A blockwise picture holds the mean light of each block and camera channel, in rows of across.
type blockwise struct {
	across int
	of     [3][]float32
}

// coarse makes it of planes.
func coarse(from *[3][]float32, w, h int) *blockwise {
	out := &blockwise{across: w / block}
	for c := range out.of {
		out.of[c] = make([]float32, out.across*(h/block))
		for i := range out.of[c] {
			x, y := i%out.across*block, i/out.across*block
			for p := range block * block {
				out.of[c][i] += from[c][(y+p/block)*w+x+p%block] / (block * block)
			}
		}
	}
	return out
}

// coarsely predicts a screen's blocks, with moiré if asked for.
func (o *Optics) coarsely(s *screen, move rectify.Point, withWaves bool) *blockwise {
	v, _ := o.spare.Get().(*sight)
	if v == nil {
		v = &sight{}
	}
	defer o.done(v)
	o.predict(s, move, withWaves, nil, v)
	return coarse(&v.want, s.w, s.h)
}

// likenesses sums how far a photo is from a card and from the card changed, over those blocks in which these two differ.
func likenesses(seen, card, changed *blockwise) (as, but float64) {
	const enough = 0.08 // of white's light
	for c := range seen.of {
		for i, l := range seen.of[c] {
			if a, b := card.of[c][i], changed.of[c][i]; a-b > enough || b-a > enough {
				as += math.Abs(float64(l - a))
				but += math.Abs(float64(l - b))
			}
		}
	}
	return as, but
}

// strange finds blocks that are clearly not as predicted, with moiré or without, if they are more than lines make, and tells
// where their middle is. The panel's border has no say: a picture that stands elsewhere leaves anything there.
func strange(seen, want, even *blockwise) (x, y, n int) {
	const clearly, some = 0.4, 0.04
	across, down := want.across, len(want.of[0])/want.across
	off := func(a, b float32) bool { return a-b > clearly || b-a > clearly }
	var xs, ys []int
	for j := 2; j < down-2; j++ {
		for i := 2; i < across-2; i++ {
			k := j*across + i
			for c := range seen.of {
				if s := seen.of[c][k]; off(s, want.of[c][k]) && off(s, even.of[c][k]) {
					xs, ys = append(xs, i*block+block/2), append(ys, j*block+block/2)
					break
				}
			}
		}
	}
	if n = len(xs); float64(n) < some*float64(across*down) {
		return 0, 0, 0
	}
	slices.Sort(xs)
	slices.Sort(ys)
	return xs[n/2], ys[n/2], n
}
