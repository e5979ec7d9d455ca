package link

import "fmt"

// An arith takes bits out of an adaptive binary arithmetic code (after I. Witten, R. Neal, J. Cleary,
// Arithmetic Coding for Data Compression, Comm. ACM 30(6), 1987, in its carry-less form), which both dense codecs
// of PROTOCOL.md share.
type arith struct {
	data           []byte
	past           int // bytes taken beyond the end
	low, high, now uint32
	rate           uint // how fast models learn: by 1/2^rate of what is left
}

func newArith(data []byte, rate uint) arith {
	a := arith{data: data, high: ^uint32(0), rate: rate}
	for range 4 {
		a.now = a.now<<8 | a.next()
	}
	return a
}

// maxPast is how many bytes may be missing at the end: those are zeros that the device leaves out.
const maxPast = 4

func (a *arith) next() uint32 {
	if len(a.data) == 0 {
		a.past++
		return 0
	}
	b := a.data[0]
	a.data = a.data[1:]
	return uint32(b)
}

// bit takes a bit whose chance to be 1 is p of 65536.
func (a *arith) bit(p uint32) uint32 {
	span := a.high - a.low
	mid := a.low + span>>16*p + span&0xffff*p>>16
	var bit uint32
	if a.now <= mid {
		bit, a.high = 1, mid
	} else {
		a.low = mid + 1
	}
	for a.low^a.high < 1<<24 {
		a.low <<= 8
		a.high = a.high<<8 | 255
		a.now = a.now<<8 | a.next()
	}
	return bit
}

// A model is what a bit's chance to be 1 has been learnt to be, in 1/65536, less a half.
type model uint16

func (m model) chance() uint32 { return uint32(m ^ 0x8000) }

func (m *model) learn(bit uint32, rate uint) {
	p := m.chance()
	if bit == 1 {
		p += (65535 - p) >> rate
	} else {
		p -= p >> rate
	}
	*m = model(p) ^ 0x8000
}

func (a *arith) learn(m *model) uint32 {
	bit := a.bit(m.chance())
	m.learn(bit, a.rate)
	return bit
}

// plain takes n bits of equal chance, highest first.
func (a *arith) plain(n int) (v uint32) {
	for range n {
		v = v<<1 | a.bit(0x8000)
	}
	return v
}

// ended says what is wrong at the end.
func (a *arith) ended() error {
	if a.past > maxPast {
		return fmt.Errorf("%w: they end early", ErrPixels)
	}
	if len(a.data) > 0 {
		return fmt.Errorf("%w: %d bytes left over", ErrPixels, len(a.data))
	}
	return nil
}

// channelBits is the width of each channel of a cell, blue or the only one first, four bits of number each.
func channelBits(s *scan) uint32 {
	switch s.g.CellBytes {
	case 1:
		return 0x8
	case 2:
		return 0x565
	}
	return 0x888
}

// plane is what a channel would be if it went on evenly from its neighbours.
func plane(left, up, corner, mask uint32) uint32 {
	return uint32(min(max(int32(left&mask)+int32(up&mask)-int32(corner&mask), 0), int32(mask)))
}

// unfold undoes the numbering of differences by their size: 0, 1, -1, 2, -2 …
func unfold(z, mask uint32) uint32 {
	if z%2 == 1 {
		return mask - z/2
	}
	return z / 2
}

// fold numbers differences by their size.
func fold(d, mask uint32) uint32 {
	if d > mask/2 {
		return 2*(mask-d) + 1
	}
	return 2 * d
}

const golden32 = 0x9e3779b1 // 2^32 over the golden ratio

// near is the cell at x, y, or 0 outside the rectangle.
func (s *scan) near(x, y int) uint32 {
	if x < s.x0 || x >= s.x1 || y < s.y0 || y >= s.y1 {
		return 0
	}
	return s.value(s.at(x, y))
}

// context is a hash of the neighbours of the cell at hand.
func (s *scan) context(left, up, right, corner uint32) uint32 {
	const k = golden32
	return mix(left + k*mix(up+k*mix(right+k*mix(corner+k*mix(s.near(s.x-2, s.y)+k*s.near(s.x, s.y-2))))))
}

// shape says which neighbours are alike.
func shape(left, up, right, corner uint32) (n uint32) {
	if left == up {
		n |= 1
	}
	if up == corner {
		n |= 2
	}
	if up == right {
		n |= 4
	}
	return n
}

// rowRepeats reports whether the row at hand is the one above.
func (s *scan) rowRepeats() bool {
	for x := s.x0; x < s.x1; x++ {
		if s.value(s.at(x, s.y)) != s.value(s.at(x, s.y-1)) {
			return false
		}
	}
	return true
}

// repeatRow copies the row above.
func (s *scan) repeatRow() {
	for range s.x1 - s.x0 {
		s.put(s.near(s.x, s.y-1))
		s.step()
	}
}
