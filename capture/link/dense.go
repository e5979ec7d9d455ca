package link

import "fmt"

// A denseDecoder undoes the dense codec of PROTOCOL.md: an adaptive binary arithmetic coder
// (after I. Witten, R. Neal, J. Cleary, Arithmetic Coding for Data Compression, Comm. ACM 30(6),
// 1987, in its carry-less form). It mirrors next_dense of the agent step by step.
type denseDecoder struct {
	s              *scan
	data           []byte
	past           int // bytes taken beyond the end
	low, high, now uint32

	above, same uint32
	sameRow     [2]uint16
	rawRow      uint16
	hit         [64]uint16
	pick        [2][4]uint16
	slot        [32]uint16
	size        [3][9]uint16
	guess       [512]uint32
	trust       [512]uint32
	cache       [32]uint32
	bits        uint32 // of each channel, four bits of number, blue or the only one first
}

// maxPast is how many bytes may be missing at the end: those are zeros that the device leaves out.
const maxPast = 4

func (d *denseDecoder) next() uint32 {
	if len(d.data) == 0 {
		d.past++
		return 0
	}
	b := d.data[0]
	d.data = d.data[1:]
	return uint32(b)
}

func (d *denseDecoder) bit(p uint32) uint32 {
	span := d.high - d.low
	mid := d.low + span>>16*p + span&0xffff*p>>16
	var bit uint32
	if d.now <= mid {
		bit, d.high = 1, mid
	} else {
		d.low = mid + 1
	}
	for d.low^d.high < 1<<24 {
		d.low <<= 8
		d.high = d.high<<8 | 255
		d.now = d.now<<8 | d.next()
	}
	return bit
}

func (d *denseDecoder) learn(model *uint16) uint32 {
	p := uint32(*model ^ 0x8000)
	bit := d.bit(p)
	if bit == 1 {
		p += (65535 - p) >> 5
	} else {
		p -= p >> 5
	}
	*model = uint16(p) ^ 0x8000
	return bit
}

func (d *denseDecoder) plain(n int) (v uint32) {
	for range n {
		v = v<<1 | d.bit(0x8000)
	}
	return v
}

// near is the cell at x, y, or 0 outside the rectangle.
func (d *denseDecoder) near(x, y int) uint32 {
	if x < d.s.x0 || x >= d.s.x1 || y < d.s.y0 || y >= d.s.y1 {
		return 0
	}
	return d.s.value(d.s.at(x, y))
}

func (d *denseDecoder) cell() uint32 {
	x, y := d.s.x, d.s.y
	left, up, corner := d.near(x-1, y), d.near(x, y-1), d.near(x-1, y-1)
	pick := [3]uint32{left, up, d.near(x+1, y-1)}
	const k = 0x9e3779b1
	hash := mix(left + k*mix(up+k*mix(pick[2]+k*mix(corner+k*mix(d.near(x-2, y)+k*d.near(x, y-2))))))
	entry := &d.guess[hash>>23]
	guess := *entry
	trust := &d.trust[hash>>23]
	n := d.same<<3 | *trust<<4
	if left == up {
		n |= 1
	}
	if up == corner {
		n |= 2
	}
	if up == pick[2] {
		n |= 4
	}
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
		d.cache[c*k>>27] = c
	}
	*entry = c
	return c
}

func (d *denseDecoder) channels(left, up, corner uint32) (c uint32) {
	shift := uint32(0)
	for k, bits := 0, d.bits; bits != 0; k, bits = k+1, bits>>4 {
		n := bits & 15
		mask := uint32(1)<<n - 1
		plane := min(max(int32(left&mask)+int32(up&mask)-int32(corner&mask), 0), int32(mask))
		size := 0
		for size < int(n) && d.learn(&d.size[k][size]) == 1 {
			size++
		}
		z := uint32(0)
		if size > 0 {
			z = 1<<(size-1) | d.plain(size-1)
		}
		diff := z / 2
		if z%2 == 1 {
			diff = mask - z/2
		}
		c |= (uint32(plane) + diff) & mask << shift
		shift += n
		left, up, corner = left>>n, up>>n, corner>>n
	}
	return c
}

// decodeDense fills the scan's rectangles.
func decodeDense(s *scan, data []byte) error {
	d := &denseDecoder{s: s, data: data, high: ^uint32(0), bits: 0x888}
	switch {
	case s.g.CellBytes == 1:
		d.bits = 0x8
	case s.g.CellBytes == 2:
		d.bits = 0x565
	}
	for range 4 {
		d.now = d.now<<8 | d.next()
	}
	for s.more() {
		if d.past > maxPast {
			return fmt.Errorf("%w: they end early", ErrPixels)
		}
		if s.y > s.y0 {
			if d.above = d.learn(&d.sameRow[d.above]); d.above == 1 {
				for range s.x1 - s.x0 {
					s.put(d.near(s.x, s.y-1))
					s.step()
				}
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
	if d.past > maxPast {
		return fmt.Errorf("%w: they end early", ErrPixels)
	}
	if len(d.data) > 0 {
		return fmt.Errorf("%w: %d bytes left over", ErrPixels, len(d.data))
	}
	return nil
}

// densest is the best codec that a device has.
func densest(h Hello) Codec {
	if h.Has(CanDense) {
		return CodecDense
	}
	return CodecRuns
}
