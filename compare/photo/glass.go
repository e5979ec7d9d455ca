package photo

import (
	"errors"
	"fmt"
	"image"
	"slices"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// A Glass is what photos of test cards say about the panel itself.
type Glass struct {
	Says []string          // faults in words; none for a sound panel
	Dead []image.Rectangle // pixels, rows and columns that do not follow
	// Chance is that of a sound panel's photos straying somewhere as far as these do, on either card.
	Chance float64
	// Untold is what these photos cannot tell, in words.
	Untold []string
	// Uniformity is the least light of white over the greatest, smoothed over 17x17 px. What the lens loses towards the photo's
	// corners is in it, since one camera cannot tell that from a backlight's own fall.
	Uniformity float64
}

// A pixel, row or column does not follow if it lacks more than this share of the light that it should give, or gives as
// much that it should not.
const notFollowing = 0.35

// alongALine is how rarely a sound part of the panel strays as far anywhere as a line must to be followed on from where it is known
// to be faulty.
const alongALine = 0.01

// aPixelNeeds is how many photo pixels a panel pixel single pixels are looked for from: two, by the sampling theorem, and a
// little less, since a ratio of two is one in the mean.
const aPixelNeeds = 1.9

var errOldOptics = errors.New("this bench was aligned by a version that had not learnt what a sound panel looks like: run fascia bench align again")

// CheckPixels looks for rows, columns, pixels and areas that do not follow, in photos of a white and of a black
// panel, and for light that has become uneven since the bench was aligned. What strays on a sound panel, by noise and
// by moiré, is learnt when the bench is aligned (Pane); a sound panel is found at fault by one check in 10,000. Photos of no use
// are NoCapture.
func (o *Optics) CheckPixels(white, black image.Image) (*Glass, error) {
	if o.Pane == nil {
		return nil, errOldOptics
	}
	o.prepare()
	c := &check{o: o, g: &Glass{Chance: 1}, fine: o.fineness(), place: placesOf(o.Geometry.Panel[0], o.Geometry.Panel[1])}
	if err := c.white(white); err != nil {
		return nil, fmt.Errorf("the white card: %w", err)
	}
	if err := c.black(black); err != nil {
		return nil, fmt.Errorf("the black card: %w", err)
	}
	c.untold()
	return c.g, nil
}

// The cards, as Pane has them.
const blackCard, whiteCard = 0, 1

var cardNames = [2]string{"black", "white"}

// A check is one of a panel.
type check struct {
	o     *Optics
	g     *Glass
	fine  []bool        // where single pixels can be told
	place [shapes][]int // of each pixel
	move  rectify.Point // of the rig
}

// photo refuses photos of another size.
func (c *check) photo(m image.Image) (*rectify.Photo, error) {
	g := &c.o.Geometry
	if s := m.Bounds().Size(); s.X != g.Photo[0] || s.Y != g.Photo[1] {
		return nil, noCapture("it is %dx%d, but the bench was aligned with photos of %dx%d; is it another camera's bench.yaml?", s.X, s.Y, g.Photo[0], g.Photo[1])
	}
	return rectify.NewPhoto(m), nil
}

func (c *check) white(m image.Image) error {
	p, err := c.photo(m)
	if err != nil {
		return err
	}
	s := c.o.screenOf(cardOf(c.o.Geometry.Panel[0], c.o.Geometry.Panel[1], true))
	l, err := c.lit(c.o, p, s)
	if err != nil {
		return err
	}
	first := l.v
	if c.o.dark(first) {
		return errDark()
	}
	uneven := l.o.uneven(l.v, l.mask)
	if uneven != "" {
		if l, err = c.lit(l.o.under(l.v), p, s); err != nil {
			return err
		}
	}
	o := l.o
	if o.leans != (lean{}) {
		c.o = c.o.leaning(o.leans)
	}
	if err := o.usable(p, s, l.v, Options{Moved: usualMove}); err != nil {
		return err
	}
	c.move = l.v.Move
	if slices.Contains(l.mask, true) || uneven != "" {
		if d, moved := o.elsewhere(p, s, l.v); moved {
			return errMoved(d)
		}
		// What lies before the pane, or falls on it, is wide and soft.
		if err := c.o.obstacle(first, c.o.clouds(first), s, p); err != nil {
			return err
		}
	}
	c.g.Chance = min(c.g.Chance, l.chance)
	c.say(l.strays, l.mask, whiteCard)
	if uneven != "" {
		c.g.Says = append(c.g.Says, uneven)
	}
	c.g.Uniformity = o.uniformity(l.v)
	return nil
}

// A lit card is what a photo of white shows.
type lit struct {
	o      *Optics // for photos that lean as this one does
	v      *sight
	strays *strays
	mask   []bool  // of what does not follow
	chance float64 // of straying as far
}

func (c *check) lit(o *Optics, p *rectify.Photo, s *screen) (lit, error) {
	v, ok := o.lookAtCard(p, s)
	if !ok && o.dark(v) {
		return lit{}, errDark()
	}
	if !ok {
		return lit{}, noCapture("the panel is not where the bench was aligned: the camera moved; run fascia bench align")
	}
	found := c.found(o, v)
	if count(found.mask) > 0 || v.misses() > asNoise { // the camera may have been turned by a knock
		if q, u := o.upright(p, s, v, true); u != v {
			rolled := c.found(q, q.better(p, s, u))
			if explained(v.strain(), rolled.v.strain()) || count(rolled.mask) == 0 {
				o, v, found = q, rolled.v, rolled
			}
		}
	}
	if v.Move.Norm() <= wanders {
		return found, nil
	}
	// Who goes by borders and moiré takes a border that is dark for a picture that has moved by a line.
	if v, ok := o.nearer(p, s); ok {
		if near := c.found(o, v); 5*count(near.mask) <= 6*count(found.mask) {
			return near, nil
		}
	}
	return found, nil
}

// found says what strays in a sight.
func (c *check) found(o *Optics, v *sight) lit {
	l := lit{o: o, v: v, strays: o.strays(v, true)}
	l.mask, l.chance = c.offenders(l.strays, whiteCard)
	return l
}

func count(mask []bool) (n int) {
	for _, m := range mask {
		if m {
			n++
		}
	}
	return n
}

func (c *check) black(m image.Image) error {
	p, err := c.photo(m)
	if err != nil {
		return err
	}
	o, s := c.o, c.o.screenOf(cardOf(c.o.Geometry.Panel[0], c.o.Geometry.Panel[1], false))
	v, ok := o.lookStill(p, s, c.move)
	defer o.done(v)
	if !ok {
		return noCapture("the panel is not where the bench was aligned: the camera moved; run fascia bench align")
	}
	a := o.strays(v, false)
	mask, chance := c.offenders(a, blackCard)
	c.g.Chance = min(c.g.Chance, chance)
	if err := o.obstacle(v, o.clouds(v), s, p); err != nil {
		return err
	}
	c.say(a, mask, blackCard)
	return nil
}

// offenders marks what does not follow, and gives the chance of the farthest stray.
func (c *check) offenders(a *strays, card int) (mask []bool, chance float64) {
	w, h := c.o.Geometry.Panel[0], c.o.Geometry.Panel[1]
	mask, chance = make([]bool, w*h), 1
	sign := float32(1) // on white light lacks, on black there is too much
	if card == whiteCard {
		sign = -1
	}
	for _, colour := range [colours]int{allColours, 0, 1, 2} {
		before := slices.Clone(mask)
		var m *marker
		for shape := range shapes {
			law, v := &c.o.Pane.Law[card][shape], a.of[shape][colour]
			limit, least := float32(law.limit(usualChance, paneTests)), float32(notFollowing*c.o.Pane.Dead[shape][colour])
			goesOn := float32(law.limit(alongALine, 1./blocks))
			var most float32
			inSpreads := c.o.Pane.inSpreads(v, &c.place, card, shape, colour, w)
			for k, t := range inSpreads {
				if t *= sign; shape == aPixel && !c.fine[k] || t < most && t <= limit {
					continue
				}
				most = max(most, t)
				if t > limit && sign*v[k] > least && peak(v, k, w, h, shape, sign) {
					if m == nil {
						m = &marker{w: w, h: h, mask: mask, left: make([]float32, w*h)}
						for i, l := range a.left[colour] {
							m.left[i] = sign * l
						}
					}
					m.mark(k, shape, before)
					m.markOn(k, shape, before, func(k int) bool { return sign*v[k] > least && sign*inSpreads[k] > goesOn })
				}
			}
			chance = min(chance, law.chance(float64(most), paneTests))
		}
		if m != nil {
			m.fill()
		}
	}
	return mask, chance
}

func cardOf(w, h int, white bool) image.Image {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	for i := range m.Pix {
		if white || i%4 == 3 {
			m.Pix[i] = 255
		}
	}
	return m
}
