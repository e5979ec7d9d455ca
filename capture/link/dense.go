package link

// A denseDecoder undoes codec 2 of PROTOCOL.md, which the agents before codec 3 offered.
type denseDecoder struct {
	arith
	s *scan

	above, same uint32
	sameRow     [2]model
	rawRow      model
	hit         [64]model
	pick        [2][4]model
	slot        [32]model
	size        [3][9]model
	guess       [512]uint32
	trust       [512]uint32
	cache       [32]uint32
}

func (d *denseDecoder) cell() uint32 {
	x, y := d.s.x, d.s.y
	left, up, corner := d.s.near(x-1, y), d.s.near(x, y-1), d.s.near(x-1, y-1)
	pick := [3]uint32{left, up, d.s.near(x+1, y-1)}
	hash := d.s.context(left, up, pick[2], corner)
	entry := &d.guess[hash>>23]
	guess := *entry
	trust := &d.trust[hash>>23]
	n := shape(left, up, pick[2], corner) | d.same<<3 | *trust<<4
	if d.same = d.learn(&d.hit[n]); d.same == 1 {
		*trust = min(*trust+1, 3)
		return guess
	}
	*trust = 0
	for i, p := range pick {
		if p == guess || i > 0 && p == left || i > 1 && p == up {
			continue
		}
		if d.learn(&d.pick[n&1][i]) == 1 {
			*entry = p
			return p
		}
	}
	var c uint32
	if d.learn(&d.pick[n&1][3]) == 1 {
		tree := uint32(1)
		for range 5 {
			tree = tree<<1 | d.learn(&d.slot[tree])
		}
		c = d.cache[tree&31]
	} else {
		c = d.channels(left, up, corner)
		d.cache[c*golden32>>27] = c
	}
	*entry = c
	return c
}

func (d *denseDecoder) channels(left, up, corner uint32) (c uint32) {
	shift := uint32(0)
	for k, bits := 0, channelBits(d.s); bits != 0; k, bits = k+1, bits>>4 {
		n := bits & 15
		mask := uint32(1)<<n - 1
		size := 0
		for size < int(n) && d.learn(&d.size[k][size]) == 1 {
			size++
		}
		z := uint32(0)
		if size > 0 {
			z = 1<<(size-1) | d.plain(size-1)
		}
		c |= (plane(left, up, corner, mask) + unfold(z, mask)) & mask << shift
		shift += n
		left, up, corner = left>>n, up>>n, corner>>n
	}
	return c
}

// decodeDense fills the scan's rectangles.
func decodeDense(s *scan, data []byte) error {
	d := &denseDecoder{arith: newArith(data, 5), s: s}
	for s.more() {
		if d.past > maxPast {
			break
		}
		if s.y > s.y0 {
			if d.above = d.learn(&d.sameRow[d.above]); d.above == 1 {
				s.repeatRow()
				continue
			}
		}
		raw := d.learn(&d.rawRow) == 1
		for range s.x1 - s.x0 {
			if raw {
				s.put(d.plain(8 * s.width))
			} else {
				s.put(d.cell())
			}
			s.step()
		}
	}
	return d.ended()
}
