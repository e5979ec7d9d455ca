package capturetest

import (
	"fmt"
	"math/rand/v2"
	"time"

	"github.com/fascia-bench/fascia/capture/link"
)

// A Tap passes what goes over a stream through two functions, which may look, change or swallow.
type Tap struct {
	link.Stream
	Up, Down func([]byte) []byte // nil: as it is
}

// Send hands on what Up makes of p.
func (t *Tap) Send(p []byte) error {
	if t.Up != nil {
		p = t.Up(append([]byte(nil), p...))
	}
	return t.Stream.Send(p)
}

// Receive hands on what Down makes of the bytes that come. As Down may add bytes, it asks for
// fewer than fit.
func (t *Tap) Receive(p []byte, wait time.Duration) (int, error) {
	if t.Down == nil {
		return t.Stream.Receive(p, wait)
	}
	for until := t.Now() + wait; ; {
		buf := make([]byte, max(1, len(p)/8))
		n, err := t.Stream.Receive(buf, until-t.Now())
		if n == 0 || err != nil {
			return 0, err
		}
		if got := copy(p, t.Down(buf[:n])); got > 0 {
			return got, nil
		}
		if t.Now() >= until {
			return 0, nil
		}
	}
}

// Noise is a bad line: each byte is flipped, dropped or joined by another with a chance of Rate/3
// each, and every so many bytes from the device a line of log is cut in wherever it happens to be.
type Noise struct {
	Rate     float64
	LogEvery int // bytes on average; 0: none
	Rand     *rand.Rand

	Logged []string // the lines cut in
}

// Damage is a function for Tap: what a bad line makes of b.
func (n *Noise) Damage(b []byte) []byte {
	out := make([]byte, 0, len(b)+8)
	for _, c := range b {
		if n.Rand.Float64() >= n.Rate {
			out = append(out, c)
			continue
		}
		switch n.Rand.IntN(3) {
		case 0:
			out = append(out, c^1<<n.Rand.IntN(8))
		case 1:
			out = append(out, c, byte(n.Rand.IntN(256)))
		}
	}
	return out
}

// DamageAndLog is Damage, and cuts in lines of log.
func (n *Noise) DamageAndLog(b []byte) []byte {
	if n.LogEvery == 0 {
		return n.Damage(b)
	}
	var out []byte
	for _, c := range b {
		if n.Rand.IntN(n.LogEvery) == 0 {
			line := fmt.Sprintf("log %d: humidity %d %%, ventil geöffnet", len(n.Logged), n.Rand.IntN(100))
			n.Logged = append(n.Logged, line)
			out = append(append(out, line...), '\n')
		}
		out = append(out, c)
	}
	return n.Damage(out)
}

// A BadLine is a line with Noise in both directions that now and then stands still: bytes that
// arrive during a stall come when it is over.
type BadLine struct {
	link.Stream
	Noise *Noise
	// StallEvery is how many bytes from the device lie between two stalls on average; 0: none.
	StallEvery int
	Stall      time.Duration

	Stalls  int
	until   time.Duration
	waiting []byte
}

// Send damages p on its way to the device.
func (b *BadLine) Send(p []byte) error { return b.Stream.Send(b.Noise.Damage(p)) }

// Receive hands on what is left of the device's bytes.
func (b *BadLine) Receive(p []byte, wait time.Duration) (int, error) {
	buf := make([]byte, 512)
	for until := b.Now() + wait; ; {
		if len(b.waiting) > 0 && b.Now() >= b.until {
			n := copy(p, b.waiting)
			b.waiting = b.waiting[n:]
			return n, nil
		}
		left := until - b.Now()
		if left <= 0 {
			return 0, nil
		}
		if len(b.waiting) > 0 {
			left = min(left, b.until-b.Now())
		}
		n, err := b.Stream.Receive(buf, left)
		if err != nil {
			return 0, err
		}
		b.waiting = append(b.waiting, b.Noise.DamageAndLog(buf[:n])...)
		for range n {
			if b.StallEvery > 0 && b.Noise.Rand.IntN(b.StallEvery) == 0 && b.Now() >= b.until {
				b.Stalls++
				b.until = b.Now() + b.Stall
			}
		}
	}
}
