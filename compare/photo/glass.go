package photo

import (
	"fmt"
	"image"
	"math"
	"sort"
)

// A Glass is what photos of test cards say about the panel itself.
type Glass struct {
	Says       []string          // faults in words; none for a sound panel
	Dead       []image.Rectangle // pixels, rows and columns that do not follow
	Uniformity float64           // least light of white over the greatest, smoothed over 17x17 px
}

// CheckCard holds a photo of a card against what the card's dump says, for faults of the glass: colour order,
// inversion, offset, rotation. It returns the fault in words, or nothing.
func (o *Optics) CheckCard(card, photo image.Image) (string, error) {
	res, err := o.Compare(card, photo, Options{})
	if err != nil && !IsNoCapture(err) {
		return "", err
	}
	if err == nil && res.Same {
		return "", nil
	}
	pic, e := o.Rectify(photo)
	if e != nil {
		return "", e
	}
	type guess struct {
		says  string
		gain  float64 // by how much it explains the picture better than the card, in all
		share float64 // what is left of the card's misfit, where the two differ
	}
	var all []guess
	id := func(x, y, w, h int) (int, int) { return x, y }
	add := func(says string, at func(x, y, w, h int) (int, int), order [3]int, invert bool) {
		as, but := likenesses(pic, card, at, order, invert)
		all = append(all, guess{says, as - but, but / max(as, 1e-9)})
	}
	add("red and blue are exchanged on the glass", id, [3]int{2, 1, 0}, false)
	add("the glass shows every colour's complement", id, [3]int{0, 1, 2}, true)
	add("the glass shows the complement, and red and blue exchanged", id, [3]int{2, 1, 0}, true)
	add("the picture stands upside down on the glass", func(x, y, w, h int) (int, int) { return w - 1 - x, h - 1 - y }, [3]int{0, 1, 2}, false)
	add("left and right are exchanged on the glass", func(x, y, w, h int) (int, int) { return w - 1 - x, y }, [3]int{0, 1, 2}, false)
	add("top and bottom are exchanged on the glass", func(x, y, w, h int) (int, int) { return x, h - 1 - y }, [3]int{0, 1, 2}, false)
	for dy := -4; dy <= 4; dy++ {
		for dx := -4; dx <= 4; dx++ {
			if dx != 0 || dy != 0 {
				add(fmt.Sprintf("the picture stands %d,%d px off on the glass", dx, dy), func(x, y, w, h int) (int, int) { return x - dx, y - dy }, [3]int{0, 1, 2}, false)
			}
		}
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].gain > all[j].gain })
	if all[0].gain > 0 && all[0].share < 0.7 {
		return all[0].says, nil
	}
	if err != nil {
		return "", err
	}
	if len(res.Regions) > 0 {
		return fmt.Sprintf("the glass shows something else than the dump: %s", res.Regions[0].Says), nil
	}
	return "the glass shows something else than the dump", nil
}

// likenesses sums how far a picture is from a card and from the card changed, in levels, over those blocks of 4x4
// pixels in which these two differ. Over a block most moiré averages out.
func likenesses(pic *image.NRGBA, card image.Image, at func(x, y, w, h int) (int, int), order [3]int, invert bool) (as, but float64) {
	const block, enough = 4, 24
	b := card.Bounds()
	w, h := b.Dx(), b.Dy()
	level := func(x, y int) [3]float64 {
		r, g, bl, _ := card.At(b.Min.X+x, b.Min.Y+y).RGBA()
		return [3]float64{float64(r >> 8), float64(g >> 8), float64(bl >> 8)}
	}
	for y := 0; y+block <= h; y += block {
	next:
		for x := 0; x+block <= w; x += block {
			var was, would, is [3]float64
			for p := range block * block {
				u, v := x+p%block, y+p/block
				i, j := at(u, v, w, h)
				if i < 0 || j < 0 || i >= w || j >= h {
					continue next
				}
				c, d, k := level(u, v), level(i, j), pic.PixOffset(u, v)
				for ch := range 3 {
					l := d[order[ch]]
					if invert {
						l = 255 - l
					}
					was[ch] += c[ch] / (block * block)
					would[ch] += l / (block * block)
					is[ch] += float64(pic.Pix[k+ch]) / (block * block)
				}
			}
			for ch := range 3 {
				if math.Abs(was[ch]-would[ch]) > enough {
					as += math.Abs(is[ch] - was[ch])
					but += math.Abs(is[ch] - would[ch])
				}
			}
		}
	}
	return as, but
}

// CheckPixels looks for rows, columns and pixels that do not follow, in photos of a white and of a black
// panel, and for uneven light. Single pixels are told only where the bench has two photo pixels for each.
func (o *Optics) CheckPixels(white, black image.Image) (*Glass, error) {
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	g := &Glass{}
	for _, card := range []struct {
		name  string
		card  image.Image
		photo image.Image
	}{{"white", cardOf(w, h, true), white}, {"black", cardOf(w, h, false), black}} {
		res, err := o.Compare(card.card, card.photo, Options{})
		if err != nil {
			return nil, fmt.Errorf("the %s card: %w", card.name, err)
		}
		for _, r := range res.Regions {
			b := r.Rect()
			g.Dead = append(g.Dead, b)
			kind := "an area of"
			switch {
			case b.Dx() > w/2 && b.Dy() <= 8:
				kind = "a row,"
			case b.Dy() > h/2 && b.Dx() <= 8:
				kind = "a column,"
			case b.Dx() <= 8 && b.Dy() <= 8:
				kind = "a pixel,"
			}
			g.Says = append(g.Says, fmt.Sprintf("%s %dx%d at %d,%d, does not follow: it is not %s", kind, b.Dx(), b.Dy(), b.Min.X, b.Min.Y, card.name))
		}
	}
	lo, hi := math.Inf(1), 0.0
	f := smooth(o.Flat[1], w, h, 4)
	for _, v := range f {
		lo, hi = min(lo, float64(v)), max(hi, float64(v))
	}
	g.Uniformity = lo / max(hi, 1e-9)
	return g, nil
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
