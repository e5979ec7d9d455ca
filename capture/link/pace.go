package link

import (
	"fmt"
	"time"
)

// A pace is how long to wait and how much to ask for at once, learnt from how the line answers.
type pace struct {
	longest      time.Duration // Options.Patience
	smooth, vary time.Duration // round trip and its variation; smooth 0: none measured yet
	backoff      int

	chunk, most int // bytes of a stream in one frame, now and at best
	good        int // pieces in a row without trouble
	losses      int // how often there was trouble
}

// leastWait is the shortest wait before a request is sent again. A device may well be busy
// drawing for that long.
const leastWait = 100 * time.Millisecond

// leastChunk is where pieces stop getting shorter: at one byte in a thousand damaged, shorter ones
// carry less, as their frames' heads take over.
const leastChunk = 64

// wait is the time after which a request that was not answered is sent again: RFC 6298, section
// 2, with its gains of 1/8 and 1/4, four times the variation, and doubling.
func (p *pace) wait() time.Duration {
	w := p.longest
	if p.smooth > 0 {
		w = max(leastWait, p.smooth+4*p.vary) << min(p.backoff, 6)
	}
	return min(w, p.longest)
}

// took takes in a round trip of a request that was sent once.
func (p *pace) took(d time.Duration) {
	d = max(d, time.Microsecond)
	p.backoff = 0
	if p.smooth == 0 {
		p.smooth, p.vary = d, d/2
		return
	}
	p.vary += ((p.smooth - d).Abs() - p.vary) / 4
	p.smooth += (d - p.smooth) / 8
}

func (p *pace) late() { p.backoff++ }

// lost halves the pieces, kept lengthens them again after a while.
func (p *pace) lost() {
	p.good = 0
	p.losses++
	p.chunk = max(min(leastChunk, p.most), p.chunk/2)
}

func (p *pace) kept() {
	if p.good++; p.good%32 == 0 {
		p.chunk = min(p.most, p.chunk+p.chunk/2)
	}
}

// longChunk is the most that a long picture without loss travels in: a frame's 19 bytes are half a per cent of it.
const longChunk = 4096

// A BoundError says that a picture did not arrive whole in the time it is given.
type BoundError struct {
	Bound  time.Duration
	Resent int64 // requests that had to be sent again meanwhile
	Noise  int64 // bytes that were neither frame nor text
}

func (e *BoundError) Error() string {
	return fmt.Sprintf("no whole picture within %v: %d requests were sent again, %d bytes came that were neither frame nor text",
		e.Bound, e.Resent, e.Noise)
}
