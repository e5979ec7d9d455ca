package link

import (
	"context"
	"errors"
	"time"
)

const maxStream = 4 * MaxSide * MaxSide

var errDrawn = errors.New("link: drawn while being read")

// A stitch puts the pieces of a stream together, whatever order they come in.
type stitch struct {
	data  []byte
	early map[int][]byte // pieces beyond a gap, by offset
	ends  int            // where the stream ends, or -1 while that is not known
}

func newStitch() *stitch { return &stitch{early: map[int][]byte{}, ends: -1} }

// add takes a piece and returns how many bytes the unbroken beginning grew by.
func (s *stitch) add(p piece) int {
	if p.tail == tailEnd {
		s.ends = p.offset + len(p.data)
	}
	if p.offset >= len(s.data) && len(p.data) > 0 {
		s.early[p.offset] = p.data
	}
	before := len(s.data)
	for {
		d, ok := s.early[len(s.data)]
		if !ok {
			return len(s.data) - before
		}
		delete(s.early, len(s.data))
		s.data = append(s.data, d...)
	}
}

func (s *stitch) whole() bool { return len(s.data) == s.ends }

// gap is how many bytes are missing up to the next piece that is there, or 0: all of the rest.
func (s *stitch) gap() int {
	n := 0
	for offset := range s.early {
		if d := offset - len(s.data); d > 0 && (n == 0 || d < n) {
			n = d
		}
	}
	return n
}

// ofOneMoment reports whether a stream's pieces must all have the same frame counter. What the
// other streams hold may change without a pixel, so a gap in one of those is not filled later:
// it is asked for anew.
func ofOneMoment(kind byte) bool {
	return kind != kindHello && kind != kindObserved && kind != kindList
}

// fetch collects a stream. Pieces that went missing are asked for again; nothing is kept on the
// device for that, it makes the same bytes once more. A frame counter that moves is errDrawn.
func (c *Conn) fetch(ctx context.Context, kind byte, args []byte) ([]byte, reply, error) {
	return c.fetchLate(ctx, kind, args, 0)
}

// fetchLate is fetch of a stream before whose first byte the device rightly works as long as head.
func (c *Conn) fetchLate(ctx context.Context, kind byte, args []byte, head time.Duration) ([]byte, reply, error) {
	var (
		s     = newStitch()
		first *reply
	)
	for try := 0; try < c.opt.Tries; try++ {
		if try > 0 || first != nil {
			c.resent++
		}
		if !ofOneMoment(kind) {
			s, first = newStitch(), nil
		}
		tag := c.nextTag(kind)
		from, length := len(s.data), s.gap()
		sent := c.s.Now()
		if err := c.send(kind, tag, streamArgs(c.pace.chunk, from, length, args...)); err != nil {
			return nil, reply{}, err
		}
		grew := false
		for idle := 0; idle < maxIdle; idle++ {
			wait := c.pace.wait()
			if first == nil {
				wait += head
			}
			r, ok, err := c.receive(ctx, kind, tag, wait)
			if err != nil {
				return nil, reply{}, err
			}
			if !ok {
				c.pace.late()
				break
			}
			c.pace.took(c.s.Now() - sent)
			sent = c.s.Now()
			if err := refusal(r.code); err != nil {
				return nil, r, err
			}
			p, ok := parsePiece(r.payload)
			if !ok {
				break
			}
			if first == nil {
				first = &r
			}
			if ofOneMoment(kind) && (p.tail == tailVoid || r.counter != first.counter || r.generation != first.generation) {
				return nil, r, errDrawn
			}
			if s.add(p) > 0 {
				grew, idle = true, 0
				c.pace.kept()
			}
			if s.whole() {
				return s.data, *first, nil
			}
			if len(s.data) > maxStream {
				return nil, reply{}, errors.New("the device sends without end")
			}
			if p.tail == tailEnd || length > 0 && len(s.data) >= from+length {
				break // all that was asked for has passed; what is missing is asked for at once
			}
		}
		c.pace.lost()
		if grew && ofOneMoment(kind) {
			try = -1 // it goes on: only requests that bring nothing count
		}
	}
	return nil, reply{}, c.silent()
}

// maxIdle is how many pieces in a row may bring nothing new before the request is sent again.
const maxIdle = 64
