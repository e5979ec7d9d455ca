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
	base  int // where in the stream data begins
	data  []byte
	early map[int][]byte // pieces beyond a gap, by offset
	ends  int            // where the stream ends, or -1 while that is not known
}

func newStitch() *stitch { return &stitch{early: map[int][]byte{}, ends: -1} }

// add takes a piece and returns how many bytes the unbroken beginning grew by.
func (s *stitch) add(p piece) int {
	p.offset -= s.base
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
	s := newStitch()
	r, err := c.fetchUpTo(ctx, kind, args, 0, s, 0)
	return s.data, r, err
}

// fetchUpTo fills s until it is whole or has as many bytes as enough, if that is not 0. Before the first byte comes the device
// rightly works as long as head.
func (c *Conn) fetchUpTo(ctx context.Context, kind byte, args []byte, head time.Duration, s *stitch, enough int) (reply, error) {
	var first *reply
	for try := 0; try < c.opt.Tries; try++ {
		if try > 0 || first != nil {
			c.resent++
		}
		if !ofOneMoment(kind) {
			*s, first = *newStitch(), nil
		}
		tag := c.nextTag(kind)
		from, length := len(s.data), s.gap()
		if length == 0 && enough > 0 {
			length = enough - from
		}
		sent := c.s.Now()
		if err := c.send(kind, tag, streamArgs(c.pace.chunk, s.base+from, length, args...)); err != nil {
			return reply{}, err
		}
		grew := false
		for idle := 0; idle < maxIdle; idle++ {
			wait := c.pace.wait()
			if first == nil {
				wait += head
			}
			r, ok, err := c.receive(ctx, kind, tag, wait)
			if err != nil {
				return reply{}, err
			}
			if !ok {
				c.pace.late()
				break
			}
			c.pace.took(c.s.Now() - sent)
			sent = c.s.Now()
			if err := refusal(r.code); err != nil {
				return r, err
			}
			p, ok := parsePiece(r.payload)
			if !ok {
				break
			}
			if first == nil {
				first = &r
			}
			if ofOneMoment(kind) && (p.tail == tailVoid || r.counter != first.counter || r.generation != first.generation) {
				return r, errDrawn
			}
			if s.add(p) > 0 {
				grew, idle = true, 0
				c.pace.kept()
			}
			if s.whole() || enough > 0 && len(s.data) >= enough {
				return *first, nil
			}
			if s.base+len(s.data) > maxStream {
				return reply{}, errors.New("the device sends without end")
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
	return reply{}, c.silent()
}

// maxIdle is how many pieces in a row may bring nothing new before the request is sent again.
const maxIdle = 64
