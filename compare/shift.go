package compare

// smallPanel is the number of pixels up to which every displacement is tried.
const smallPanel = 1 << 14

// shifts looks for a displacement of the whole picture, for each likely change of
// colours and each turn.
func (p *pair) shifts(colours []colourFault) []hypothesis {
	var found []hypothesis
	small := p.w*p.h <= smallPanel
	var marks *landmarks
	probes := probesIn(p.c16, p.w, p.h, 600)
	if !small {
		if p.standsStill(probes) {
			return nil
		}
		marks = findLandmarks(p.c16, p.w, p.h)
	}
	for _, f := range colours {
		for _, t := range p.turnsFor() {
			v := laid(p.g16, p.w, p.h, t, f.apply)
			var dx, dy int
			var ok bool
			if small {
				dx, dy, ok = trySteps(v, p.c16, p.w, p.h, probes)
			} else if dx, dy, ok = marks.vote(v, p.w, p.h); !ok {
				dx, dy, ok = trySteps(v, p.c16, p.w, p.h, probes)
			}
			if !ok || dx == 0 && dy == 0 {
				continue
			}
			if left, ok := p.holdsShifted(v, dx, dy, t.causes == nil && f.names == nil); ok {
				found = append(found, hypothesis{turn: t, colour: f, dx: dx, dy: dy, left: left})
			}
		}
	}
	return found
}

// standsStill reports whether most corners of the capture's content stand where they stood: then the
// picture as a whole has not moved. Of a row of probes those count where the row below differs as
// well, since an edge can slide along itself unseen.
func (p *pair) standsStill(probes []probe) bool {
	corners, still := 0, 0
	for _, q := range probes {
		i := q.y*p.w + q.x
		if q.y+1 == p.h || p.c16[i] == p.c16[i+p.w] {
			continue
		}
		corners++
		if p.g16[i] == p.c16[i] && p.g16[i+1] == p.c16[i+1] && p.g16[i+p.w] == p.c16[i+p.w] {
			still++
		}
	}
	return corners >= 24 && still*4 > corners*3
}

// holdsShifted tests a displacement where source and target are both on the panel; what
// fills the strip that came free is anybody's guess.
func (p *pair) holdsShifted(v []uint16, dx, dy int, plain bool) (left int, ok bool) {
	refused, changed := 0, 0
	for y := max(0, dy); y < min(p.h, p.h+dy); y++ {
		for x := max(0, dx); x < min(p.w, p.w+dx); x++ {
			i := y*p.w + x
			if p.turned || p.g16[i] != p.c16[i] && p.counts(i) {
				changed++
			}
			if v[i-dy*p.w-dx] != p.c16[i] && p.counts(i) {
				left++
				if !p.turned && p.g16[i] == p.c16[i] {
					refused++
				}
			}
		}
	}
	if changed == 0 || left*10 > changed || refused*refusedShare > changed {
		return 0, false
	}
	if plain && p.lonely() {
		return 0, false
	}
	return left, true
}

// lonely reports whether all that changed is one thing in one place, which is then rather
// `moved` than the whole picture shifted.
func (p *pair) lonely() bool {
	if p.box.Dx()*p.box.Dy()*10 >= p.w*p.h {
		return false
	}
	comps, _ := components(p.diff, p.w, p.h)
	return len(comps) == 1
}

func abs(a int) int {
	if a < 0 {
		return -a
	}
	return a
}

// probe is a place where two neighbours in a row differ.
type probe struct{ x, y int }

// probesIn picks at most n probes spread over the picture.
func probesIn(v []uint16, w, h, n int) []probe {
	var all []probe
	for y := range h {
		for x := 0; x+1 < w; x++ {
			if v[y*w+x] != v[y*w+x+1] {
				all = append(all, probe{x, y})
			}
		}
	}
	if len(all) <= n {
		return all
	}
	out := make([]probe, n)
	for i := range out {
		// A stride prime to most layouts, so that early probes lie far apart.
		out[i] = all[(i*7919)%len(all)]
	}
	return out
}

// trySteps tries displacements on the probes and gives the best: every one on a small
// panel; on a large one, where landmarks come first, those along one axis and the near ones.
func trySteps(v, c []uint16, w, h int, probes []probe) (dx, dy int, ok bool) {
	if len(probes) < 8 {
		return 0, 0, false
	}
	best := 0.0
	try := func(tx, ty int) {
		hit, n := 0, 0
		for _, q := range probes {
			sx, sy := q.x-tx, q.y-ty
			if sx < 0 || sy < 0 || sx+1 >= w || sy >= h {
				continue
			}
			n++
			i, k := sy*w+sx, q.y*w+q.x
			if v[i] == c[k] && v[i+1] == c[k+1] {
				hit++
			} else if n-hit > 12 && hit < n/2 {
				return
			}
		}
		if n*3 < len(probes) {
			return
		}
		if s := float64(hit) / float64(n); s > best {
			best, dx, dy = s, tx, ty
		}
	}
	nearX, nearY := w/2, h/2
	if w*h > smallPanel {
		nearX, nearY = 16, 16
		for t := -w / 2; t <= w/2; t++ {
			try(t, 0)
		}
		for t := -h / 2; t <= h/2; t++ {
			try(0, t)
		}
	}
	for ty := -nearY; ty <= nearY; ty++ {
		for tx := -nearX; tx <= nearX; tx++ {
			try(tx, ty)
		}
	}
	return dx, dy, best > 0.6
}

// landmarks are patches that occur once in the capture, by their hash.
type landmarks struct {
	slots []landmark
	mask  uint32
}

type landmark struct {
	key uint32
	pos int32 // 0 empty, -1 seen twice, else index+1
}

const landmarkWidth = 8

// eachPatch calls f for a sample of the patches of 8 px in two rows that are not flat.
// Which ones are taken hangs on their content alone, so that a displaced picture gives
// the same sample.
func eachPatch(v []uint16, w, h int, f func(key uint32, pos int)) {
	const below = 3
	if w < landmarkWidth || h <= below {
		return
	}
	sums := make([]uint32, (below+1)*w)
	flat := make([]int, (below+1)*w) // length of the run of equal pixels that ends the patch
	const mul = 0x9E3779B1
	pow := uint32(1)
	for range landmarkWidth {
		pow *= mul
	}
	for y := range h {
		base := (y % (below + 1)) * w
		var s uint32
		run := 0
		for x := range w {
			c := v[y*w+x]
			s = s*mul + uint32(c) + 1
			if x >= landmarkWidth {
				s -= (uint32(v[y*w+x-landmarkWidth]) + 1) * pow
			}
			if x > 0 && v[y*w+x-1] == c {
				run++
			} else {
				run = 1
			}
			sums[base+x], flat[base+x] = s, run
		}
		if y < below {
			continue
		}
		top := ((y - below) % (below + 1)) * w
		for x := landmarkWidth - 1; x < w; x++ {
			if flat[base+x] >= landmarkWidth-1 && flat[top+x] >= landmarkWidth-1 {
				continue
			}
			key := sums[base+x]*0x85EBCA6B ^ (sums[top+x]*0xC2B2AE35 + 0x27220A95)
			key ^= key >> 15
			if key&7 == 0 {
				f(key, y*w+x)
			}
		}
	}
}

func findLandmarks(v []uint16, w, h int) *landmarks {
	n := 0
	eachPatch(v, w, h, func(uint32, int) { n++ })
	size := 64
	for size < 3*n {
		size *= 2
	}
	m := &landmarks{slots: make([]landmark, size), mask: uint32(size - 1)}
	eachPatch(v, w, h, func(key uint32, pos int) {
		s := m.slot(key)
		switch {
		case s.pos == 0:
			*s = landmark{key, int32(pos + 1)}
		default:
			s.pos = -1
		}
	})
	return m
}

func (m *landmarks) slot(key uint32) *landmark {
	for i := key * 0x9E3779B1 >> 3 & m.mask; ; i = (i + 1) & m.mask {
		if s := &m.slots[i]; s.pos == 0 || s.key == key {
			return s
		}
	}
}

// vote gives the displacement on which most landmarks of v and the capture agree.
func (m *landmarks) vote(v []uint16, w, h int) (dx, dy int, ok bool) {
	votes := map[[2]int]int{}
	n, best := 0, 0
	eachPatch(v, w, h, func(key uint32, pos int) {
		s := m.slot(key)
		if s.pos <= 0 {
			return
		}
		n++
		at := int(s.pos) - 1
		d := [2]int{at%w - pos%w, at/w - pos/w}
		votes[d]++
		if votes[d] > best {
			best, dx, dy = votes[d], d[0], d[1]
		}
	})
	return dx, dy, best >= 3 && best*4 >= n
}
