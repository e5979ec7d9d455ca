package compare

import (
	"fmt"
	"image"
	"sort"
)

// parts explains each group of changed pixels by itself.
func (p *pair) parts(comps []component, label []int32) []Region {
	regions := make([]Region, len(comps))
	for i, k := range comps {
		regions[i] = regionOf(k.box, p.part(k.box))
	}
	_ = label
	return regions
}

// summarise folds the regions' causes into the list of the whole picture: equal causes
// with equal details are one entry, and the entry with the most changed pixels is first.
func summarise(regions []Region, comps []component) []Cause {
	type entry struct {
		cause  Cause
		weight int
	}
	var list []*entry
	byKey := map[string]*entry{}
	for i, r := range regions {
		key := fmt.Sprint(r.Cause, r.Detail)
		e := byKey[key]
		if e == nil {
			e = &entry{cause: Cause{Cause: r.Cause, Confidence: r.Confidence, Detail: r.Detail,
				Instead: r.Instead, Says: r.Says}}
			byKey[key] = e
			list = append(list, e)
		}
		e.weight += comps[i].pixels
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].weight > list[j].weight })
	causes := make([]Cause, len(list))
	for i, e := range list {
		causes[i] = e.cause
	}
	return causes
}

// part names the cause of the difference in one box.
func (p *pair) part(b image.Rectangle) Cause {
	bg := p.background(b)
	gone, come, from, to, mapped := p.tally(b, bg)
	where := fmt.Sprintf("at %d,%d (%dx%d)", b.Min.X, b.Min.Y, b.Dx(), b.Dy())
	if dx, dy, ok := p.movedBy(b, bg); ok {
		return Cause{Cause: "moved", Confidence: 0.9, Detail: Detail{"dx": dx, "dy": dy},
			Says: fmt.Sprintf("The content %s moved by %d,%d px.", where, dx, dy)}
	}
	switch {
	case gone > 0 && come == 0:
		return Cause{Cause: "missing", Confidence: 0.9, Detail: Detail{},
			Says: fmt.Sprintf("The content %s is gone.", where)}
	case come > 0 && gone == 0:
		return Cause{Cause: "added", Confidence: 0.9, Detail: Detail{},
			Says: fmt.Sprintf("There is new content %s.", where)}
	case mapped:
		return Cause{Cause: "recoloured", Confidence: 0.8, Detail: Detail{"from": hex(from), "to": hex(to)},
			Says: fmt.Sprintf("The content %s changed from %s to %s.", where, hex(from), hex(to))}
	}
	return Cause{Cause: "other", Confidence: 0.5, Detail: Detail{},
		Says: fmt.Sprintf("%d px differ %s.", gone+come, where)}
}

// background is the commonest colour, in both pictures, of the frame around the box.
func (p *pair) background(b image.Rectangle) uint32 {
	count := map[uint32]int{}
	outer := b.Inset(-2).Intersect(image.Rect(0, 0, p.w, p.h))
	for y := outer.Min.Y; y < outer.Max.Y; y++ {
		for x := outer.Min.X; x < outer.Max.X; x++ {
			if i := y*p.w + x; !p.diff[i] && !image.Pt(x, y).In(b) {
				count[p.g.px[i]]++
			}
		}
	}
	var best uint32
	n := 0
	for c, k := range count {
		if k > n || k == n && c < best {
			best, n = c, k
		}
	}
	return best
}

// tally counts the changed pixels that were content in the golden and are content in
// the capture, and finds out whether one rule turns the golden's colours into the capture's.
func (p *pair) tally(b image.Rectangle, bg uint32) (gone, come int, from, to uint32, mapped bool) {
	rule := map[uint32]uint32{}
	count := map[uint32]int{}
	mapped = true
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			i := y*p.w + x
			if !p.diff[i] {
				continue
			}
			gc, cc := p.g.px[i], p.c.px[i]
			if gc != bg {
				gone++
			}
			if cc != bg {
				come++
			}
			if old, ok := rule[gc]; ok && old != cc {
				mapped = false
			}
			rule[gc] = cc
			count[gc]++
		}
	}
	n := 0
	for c, k := range count {
		if k > n || k == n && c < from {
			from, to, n = c, rule[c], k
		}
	}
	return gone, come, from, to, mapped
}

// movedBy looks for the displacement that carries the golden's content in the box onto
// the capture's.
func (p *pair) movedBy(b image.Rectangle, bg uint32) (dx, dy int, ok bool) {
	bg1, ok1 := contentBox(p.g, b, bg)
	bg2, ok2 := contentBox(p.c, b, bg)
	if !ok1 || !ok2 || bg1.Size() != bg2.Size() || bg1 == bg2 {
		return 0, 0, false
	}
	d := bg2.Min.Sub(bg1.Min)
	for y := bg1.Min.Y; y < bg1.Max.Y; y++ {
		for x := bg1.Min.X; x < bg1.Max.X; x++ {
			if p.g.px[y*p.w+x] != p.c.px[(y+d.Y)*p.w+x+d.X] {
				return 0, 0, false
			}
		}
	}
	return d.X, d.Y, true
}

func contentBox(m *picture, b image.Rectangle, bg uint32) (image.Rectangle, bool) {
	var box image.Rectangle
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if m.px[y*m.w+x] != bg {
				box = box.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	return box, !box.Empty()
}
