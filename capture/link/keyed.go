package link

// guesses is how many entries the table of codec 3 has.
const guesses = 768

// A keyedDecoder undoes codec 3 of PROTOCOL.md. It mirrors next_keyed of the agent step by step. In a rectangle
// that the host knows the bits are not taken from the line but from the cells, so that all models learn
// from them what the device's learn.
type keyedDecoder struct {
	arith
	s     *scan
	known bool   // of the rectangle at hand
	truth uint32 // the cell at hand, where it is known

	above, same uint32
	sameRow     [2]model
	rawRow      model
	hit         [64]model
	pick        [5][8]model
	slot        [64]model
	size        [3][9]model
	key, guess  [guesses]byte // guess: slot<<2 | trust
	cache       [64]uint32
	oldest      byte
}

// coded takes the next bit of a model; truth is what it is where the rectangle is known.
func (d *keyedDecoder) coded(m *model, truth bool) bool {
	if !d.known {
		return d.learn(m) == 1
	}
	bit := uint32(0)
	if truth {
		bit = 1
	}
	m.learn(bit, d.rate)
	return truth
}

func (d *keyedDecoder) cell() uint32 {
	x, y := d.s.x, d.s.y
	left, up, corner := d.s.near(x-1, y), d.s.near(x, y-1), d.s.near(x-1, y-1)
	pick := [3]uint32{left, up, d.s.near(x+1, y-1)}
	hash := d.s.context(left, up, pick[2], corner)
	at := hash >> 16 * guesses >> 16
	entry, form := &d.guess[at], shape(left, up, pick[2], corner)
	sure, guess := uint32(0), uint32(0)
	if d.key[at] == byte(hash) {
		sure = uint32(*entry & 3)
	}
	if sure > 0 {
		guess = d.cache[*entry>>2]
		hit := d.coded(&d.hit[form|d.same<<3|sure<<4], d.truth == guess)
		d.same = 0
		if hit {
			d.same = 1
			if sure < 3 {
				*entry++
			}
			return guess
		}
	}
	for i, p := range pick {
		if sure > 0 && p == guess || i > 0 && p == left || i > 1 && p == up {
			continue
		}
		m := &d.pick[i][form]
		if i == 0 && d.same == 1 {
			m = &d.pick[4][form]
		}
		found := d.coded(m, d.truth == p)
		if i == 0 {
			d.same = 0
			if found && sure == 0 {
				d.same = 1
				return p // what is usual needs no entry
			}
		}
		if found {
			slot, _ := d.find(p)
			d.enter(entry, at, hash, d.keep(slot, p))
			return p
		}
	}
	slot, have := d.find(d.truth)
	var c uint32
	if d.coded(&d.pick[3][form], have) {
		tree := 1
		for i := 5; i >= 0; i-- {
			bit := d.coded(&d.slot[tree], slot>>i&1 == 1)
			tree <<= 1
			if bit {
				tree |= 1
			}
		}
		slot = byte(tree & 63)
		c = d.cache[slot]
	} else {
		c = d.channels(left, up, corner)
		slot, _ = d.find(c)
		slot = d.keep(slot, c)
	}
	d.enter(entry, at, hash, slot)
	return c
}

const noSlot = 64

// find returns the slot of the cache that holds c, or noSlot.
func (d *keyedDecoder) find(c uint32) (slot byte, found bool) {
	for i, v := range d.cache {
		if v == c {
			return byte(i), true
		}
	}
	return noSlot, false
}

// keep gives c the oldest slot if it has none.
func (d *keyedDecoder) keep(slot byte, c uint32) byte {
	if slot == noSlot {
		slot = d.oldest
		d.cache[slot] = c
		d.oldest = (slot + 1) & 63
	}
	return slot
}

// enter has the table guess that slot next time, unless the entry that stands there was right twice.
func (d *keyedDecoder) enter(entry *byte, at, hash uint32, slot byte) {
	if *entry&3 > 1 {
		*entry--
		return
	}
	d.key[at], *entry = byte(hash), slot<<2|1
}

func (d *keyedDecoder) channels(left, up, corner uint32) (c uint32) {
	shift, truth := uint32(0), d.truth
	for k, bits := 0, channelBits(d.s); bits != 0; k, bits = k+1, bits>>4 {
		n := bits & 15
		mask := uint32(1)<<n - 1
		even := plane(left, up, corner, mask)
		z := fold((truth-even)&mask, mask)
		size := 0
		for size < int(n) && d.coded(&d.size[k][size], z>>size > 0) {
			size++
		}
		if !d.known {
			if z = 0; size > 0 {
				z = 1<<(size-1) | d.plain(size-1)
			}
		}
		c |= (even + unfold(z, mask)) & mask << shift
		shift += n
		left, up, corner, truth = left>>n, up>>n, corner>>n, truth>>n
	}
	return c
}

// decodeKeyed fills the scan's rectangles, but for those that are known.
func decodeKeyed(s *scan, data []byte) error {
	d := &keyedDecoder{arith: newArith(data, 4), s: s}
	for s.more() {
		if d.past > maxPast {
			break
		}
		d.known = s.known
		if s.y > s.y0 {
			m := &d.sameRow[d.above]
			if d.above = 0; d.coded(m, d.known && s.rowRepeats()) {
				d.above = 1
				s.repeatRow()
				continue
			}
		}
		raw := d.coded(&d.rawRow, false)
		for range s.x1 - s.x0 {
			d.truth = 0
			if d.known {
				d.truth = s.value(s.at(s.x, s.y))
			}
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
