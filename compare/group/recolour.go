package group

import (
	"image"
	"math"
	"slices"
)

// A rule is a colour that became another.
type rule struct{ from, to uint32 }

// becomes reports whether a rule is more than what letters drawn in another way bring: within a box all of its
// first colour became the second, or an area did.
func (s *scene) becomes(r rule, box image.Rectangle) bool {
	is := func(x, y int) bool { i := y*s.b.w + x; return s.b.px[i] == r.from && s.a.px[i] == r.to }
	changed, kept, was := 0, 0, 0
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			i := y*s.b.w + x
			switch {
			case is(x, y):
				changed++
				if x-2 >= box.Min.X && y-2 >= box.Min.Y && is(x-1, y) && is(x-2, y) && is(x, y-1) && is(x-1, y-1) && is(x-2, y-1) &&
					is(x, y-2) && is(x-1, y-2) && is(x-2, y-2) {
					return true // 3x3 px
				}
			case s.b.px[i] == r.from:
				kept++
			case s.b.px[i] == r.to:
				was++
			}
		}
	}
	return changed >= 24 && kept*8 <= changed && was*8 <= changed
}

// recolour peels all that a rule explains: whole shapes of its first colour that have the second now,
// and the blends at their rims.
func (s *scene) recolour(rules []rule) map[rule][]blob {
	w, h := s.b.w, s.b.h
	core := make(map[rule]bool, len(rules))
	for _, r := range rules {
		core[r] = true
	}
	of := make([]int32, len(s.open)) // rule of a pixel plus one
	index := make(map[rule]int32, len(rules))
	for i, r := range rules {
		index[r] = int32(i + 1)
	}
	any := false
	mark := make([]bool, len(s.open))
	px := make([][]int32, len(rules)+1) // of each rule
	was, n := rule{}, int32(0)
	for i, o := range s.open {
		if !o {
			continue
		}
		if r := (rule{s.b.px[i], s.a.px[i]}); r != was {
			was, n = r, index[r]
		}
		if n > 0 {
			px[n] = append(px[n], int32(i))
		}
	}
	set := func(list []int32, to bool) {
		for _, i := range list {
			mark[i] = to
		}
	}
	for k, r := range rules {
		if len(px[k+1]) == 0 {
			continue
		}
		set(px[k+1], true)
		list := blobs(mark, w, h, 1)
		set(px[k+1], false)
		for _, b := range list {
			if s.wholeShape(b, r.from) && !s.rimOf(b, r, rules, of) && groundOf(s.a, s.b, b.box) != r.to {
				any = true
				for _, i := range b.px {
					of[i] = int32(k + 1)
				}
			}
		}
	}
	if !any {
		return nil
	}
	s.spread(of, rules)
	clear(px)
	for i, n := range of {
		if n > 0 {
			px[n] = append(px[n], int32(i))
		}
	}
	out := map[rule][]blob{}
	for k, r := range rules {
		if len(px[k+1]) == 0 {
			continue
		}
		set(px[k+1], true)
		for _, b := range blobs(mark, w, h, 5) {
			out[r] = append(out[r], b)
			s.take(b.px)
		}
		set(px[k+1], false)
	}
	return out
}

// wholeShape reports whether pixels of one colour that became another are not part of a larger area
// of the first: then something of the second colour merely came to stand there.
func (s *scene) wholeShape(b blob, from uint32) bool {
	rim, stayed := 0, 0
	for _, i := range b.px {
		x, y := int(i)%s.b.w, int(i)/s.b.w
		for _, d := range beside {
			nx, ny := x+d.X, y+d.Y
			if nx < 0 || ny < 0 || nx >= s.b.w || ny >= s.b.h {
				continue
			}
			k := ny*s.b.w + nx
			if s.b.px[k] == from && s.a.px[k] == s.a.px[i] {
				continue
			}
			rim++
			if s.b.px[k] == from {
				stayed++
			}
		}
	}
	return stayed*6 <= rim && stayed*3 <= 2*(b.box.Dx()+b.box.Dy())
}

// rimOf reports whether a thin blob lies along what a commoner rule from the same colour has taken: then it
// is a rim of that, drawn with other edges.
func (s *scene) rimOf(b blob, r rule, rules []rule, of []int32) bool {
	if min(b.box.Dx(), b.box.Dy()) > 2 && len(b.px) > b.box.Dx()+b.box.Dy() {
		return false
	}
	for _, i := range b.px {
		beside := false
		around(int(i)%s.b.w, int(i)/s.b.w, s.b.w, s.b.h, 1, func(k int) {
			beside = beside || of[k] != 0 && rules[of[k]-1].from == r.from && rules[of[k]-1] != r
		})
		if beside {
			return true
		}
	}
	return false
}

// blendReach is how far from the full colour a blend may stand, in px.
const blendReach = 2

// counterReach is how far the inside of a letter may be from what is around it, in px.
const counterReach = 6

// spread gives blends to the rule beside them: golden pixels on the way from a neighbouring colour to the
// rule's first that are as far on the way to its second.
func (s *scene) spread(of []int32, rules []rule) {
	w, h := s.b.w, s.b.h
	type found struct{ at, rule int32 }
	for range blendReach {
		var add []found
		for i, o := range s.open {
			if !o || of[i] != 0 {
				continue
			}
			x, y := i%w, i/w
			near := int32(0)
			around(x, y, w, h, 1, func(k int) {
				if near == 0 {
					near = of[k]
				}
			})
			if near != 0 && s.blend(x, y, of, rules, near) {
				add = append(add, found{int32(i), near})
			}
		}
		if len(add) == 0 {
			break
		}
		for _, f := range add {
			of[f.at] = f.rule
		}
	}
	// The insides of letters do not touch what is around them. Most of what is open has no rule near.
	const cell = 8 // pixels
	cols := (w + cell - 1) / cell
	ruled := make([]bool, cols*((h+cell-1)/cell))
	for i, n := range of {
		if n > 0 {
			ruled[i/w/cell*cols+i%w/cell] = true
		}
	}
	var add []found
	for i, o := range s.open {
		if !o || of[i] != 0 {
			continue
		}
		x, y := i%w, i/w
		box := image.Rect(max(0, x-counterReach), max(0, y-counterReach), min(w, x+counterReach+1), min(h, y+counterReach+1))
		near := false
		for cy := box.Min.Y / cell; cy <= (box.Max.Y-1)/cell; cy++ {
			near = near || slices.Contains(ruled[cy*cols+box.Min.X/cell:cy*cols+(box.Max.X-1)/cell+1], true)
		}
		if !near {
			continue
		}
		last := int32(0)
		for ny := box.Min.Y; ny < box.Max.Y; ny++ {
			for _, n := range of[ny*w+box.Min.X : ny*w+box.Max.X] {
				if n > 0 && n != last {
					if last = n; mixed(s.b.px[i], s.a.px[i], rules[n-1], 14) {
						add = append(add, found{int32(i), n})
					}
				}
			}
		}
	}
	for _, f := range add {
		of[f.at] = f.rule
		delete(s.before, f.at)
	}
}

func (s *scene) blend(x, y int, of []int32, rules []rule, near int32) bool {
	w, h := s.b.w, s.b.h
	i := y*w + x
	b, a, r := s.b.px[i], s.a.px[i], rules[near-1]
	ok := false
	around(x, y, w, h, 3, func(k int) {
		if ok {
			return
		}
		gb, ga := s.b.px[k], s.a.px[k]
		if s.open[k] && of[k] == 0 || gb == b {
			return // what the other colour became must be known
		}
		u, offU := way(b, gb, r.from)
		v, offV := way(a, ga, r.to)
		if offU > 14 || offV > 14 {
			return
		}
		if ok = math.Abs(u-v) <= 0.13; !ok {
			// Another edge in another colour: only the colour is put right.
			s.before[int32(i)] = mix(ga, r.to, u)
		}
	})
	if !ok && mixed(b, a, r, faintStep) {
		ok = true
	}
	if ok {
		delete(s.before, int32(i))
	}
	return ok
}

// mixed reports whether a pixel is some colour with the rule's first mixed in, and is now the same colour
// with as much of the second, give or take some slack: then it changed along with them, and in proportion.
func mixed(b, a uint32, r rule, slack float64) bool {
	var d, e [3]float64
	dot, norm := 0.0, 0.0
	for k := range 3 {
		d[k] = float64(r.to>>(8*k)&0xff) - float64(r.from>>(8*k)&0xff)
		e[k] = float64(a>>(8*k)&0xff) - float64(b>>(8*k)&0xff)
		dot, norm = dot+d[k]*e[k], norm+d[k]*d[k]
	}
	t := dot / math.Max(1, norm)
	if norm < 100 || t < 0.02 || t > 1.03 {
		return false
	}
	if t > 0.97 { // all but the full colour
		return step(b, r.from) <= faintStep && step(a, r.to) <= faintStep
	}
	for k := range 3 {
		ground := (float64(b>>(8*k)&0xff) - t*float64(r.from>>(8*k)&0xff)) / (1 - t)
		off := slack / (1 - t)
		if math.Abs(e[k]-t*d[k]) > slack || ground < -off || ground > 255+off {
			return false
		}
	}
	return true
}

func mix(ground, full uint32, at float64) (c uint32) {
	for k := 0; k <= 16; k += 8 {
		g, f := float64(ground>>k&0xff), float64(full>>k&0xff)
		c |= uint32(math.Round(g+at*(f-g))) << k
	}
	return c
}

// around calls f for the pixels at most reach from x, y.
func around(x, y, w, h, reach int, f func(k int)) {
	for ny := max(0, y-reach); ny <= min(h-1, y+reach); ny++ {
		for nx := max(0, x-reach); nx <= min(w-1, x+reach); nx++ {
			f(ny*w + nx)
		}
	}
}

// way tells how far colour c is on the way from ground to full, and how far off that way.
func way(c, ground, full uint32) (at, off float64) {
	var d, e [3]float64
	dot, norm := 0.0, 0.0
	for k := range 3 {
		s := 8 * k
		g := float64(ground >> s & 0xff)
		d[k] = float64(full>>s&0xff) - g
		e[k] = float64(c>>s&0xff) - g
		dot += d[k] * e[k]
		norm += d[k] * d[k]
	}
	if norm < 100 {
		return 0, math.Inf(1)
	}
	at = math.Max(0, math.Min(1, dot/norm))
	for k := range 3 {
		off = math.Max(off, math.Abs(e[k]-at*d[k]))
	}
	return at, off
}
