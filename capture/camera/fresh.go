package camera

import (
	"encoding/binary"
	"errors"
	"fmt"
	"hash/maphash"
	"image"
	"image/draw"
)

// ErrFrozen means that a source hands out pictures again that it has handed out before.
var ErrFrozen = errors.New("the camera repeats an old picture")

// frozen says so to a person.
func frozen(name string, o Options) error {
	return fmt.Errorf("%w: nothing that came from %s in %v differs in any bit from what it gave before, and a live sensor is never without noise; take its power or start its stream anew, and see that no cap covers its lens", ErrFrozen, name, o.Timeout)
}

// remembered is how many frames of a source are known again: far more than wait in any buffer.
const remembered = 1024

// recent knows the last frames of a source by their marks.
type recent struct {
	ring [remembered]uint64
	set  map[uint64]bool
	n    int
}

func (r *recent) has(mark uint64) bool { return r.set[mark] }

func (r *recent) add(mark uint64) {
	if r.set[mark] {
		return
	}
	if r.set == nil {
		r.set = map[uint64]bool{}
	}
	at := r.n % remembered
	if r.n >= remembered {
		delete(r.set, r.ring[at])
	}
	r.ring[at], r.set[mark] = mark, true
	r.n++
}

var seed = maphash.MakeSeed()

// fingerprint is equal for frames that are equal to the bit. Others share it with a chance of about 2^-64.
func fingerprint(m image.Image) uint64 {
	var h maphash.Hash
	h.SetSeed(seed)
	size := m.Bounds().Size()
	_, _ = h.Write(binary.LittleEndian.AppendUint64(nil, uint64(size.X)<<32|uint64(size.Y))) // it never fails
	switch m := m.(type) {
	case *image.YCbCr:
		for _, plane := range [][]byte{m.Y, m.Cb, m.Cr} {
			_, _ = h.Write(plane)
		}
	case *image.RGBA:
		_, _ = h.Write(m.Pix)
	case *image.Gray:
		_, _ = h.Write(m.Pix)
	default:
		rgba := image.NewNRGBA(image.Rectangle{Max: size})
		draw.Draw(rgba, rgba.Rect, m, m.Bounds().Min, draw.Src)
		_, _ = h.Write(rgba.Pix)
	}
	return h.Sum64()
}

// plain reports whether a frame is of one value, as of a dark panel in a dark box where noise drowns in the camera's black
// level. Such frames are alike though the camera is alive, and what they say of the panel is true.
func plain(m image.Image) bool {
	planes := [][]byte{}
	switch m := m.(type) {
	case *image.YCbCr:
		planes = append(planes, m.Y, m.Cb, m.Cr)
	case *image.Gray:
		planes = append(planes, m.Pix)
	default:
		size := m.Bounds().Size()
		rgba := image.NewNRGBA(image.Rectangle{Max: size})
		draw.Draw(rgba, rgba.Rect, m, m.Bounds().Min, draw.Src)
		for i := 4; i < len(rgba.Pix); i++ {
			if rgba.Pix[i] != rgba.Pix[i-4] {
				return false
			}
		}
	}
	for _, p := range planes {
		for _, v := range p {
			if v != p[0] {
				return false
			}
		}
	}
	return true
}

// A clock tells whether a frame is new by what the source itself says of it: a number or a time. It is believed once it has
// been seen to move, for there are sources that write the same into every frame.
type clock struct {
	last   string
	moved  bool
	recent recent
}

// again reports whether a frame that says stamp is one that came before. "" says nothing.
func (c *clock) again(stamp string) bool {
	if stamp == "" {
		return false
	}
	if c.last != "" && stamp != c.last {
		c.moved = true
	}
	c.last = stamp
	mark := maphash.String(seed, stamp)
	old := c.recent.has(mark)
	c.recent.add(mark)
	return old && c.moved
}
