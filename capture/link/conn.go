// Package link is the host end of the link: the protocol between fascia and a device's
// agent over a byte stream that the firmware's log text shares. PROTOCOL.md beside this file
// is the specification; the device end is in the folder agent.
//
// A picture is handed on only whole, of one moment, and with the hash that the device gave.
package link

import (
	"context"
	"fmt"
	"time"
)

// A Stream is the bytes to and from a device. Time on it is the device's: on a twin waiting
// costs nothing.
type Stream interface {
	// Receive waits up to wait for at least one byte; 0, nil means that none came.
	Receive(p []byte, wait time.Duration) (int, error)
	// Send writes all of p.
	Send(p []byte) error
	// Now is the time since some fixed moment.
	Now() time.Duration
	Close() error
}

// A LogLine is a line that the firmware printed.
type LogLine struct {
	At   time.Duration // on the stream's clock
	Text string
}

// Options of a Conn.
type Options struct {
	// Log is called with each line that the firmware prints, in order; may be nil.
	Log func(LogLine)
	// Patience is how long a simple reply may take at most before the request is sent again; 400 ms
	// if zero. Once round trips have been measured it is less.
	Patience time.Duration
	// Bound is how long a look may take once the screen is still, or LookOptions.Latest has passed;
	// 30 s if zero.
	Bound time.Duration
	// Tries is how often a request is sent before the device counts as silent; 4 if zero.
	Tries int
	// Chunk is how many bytes of a long reply travel in one frame at first; 512 if zero. Where the line loses
	// frames there are fewer, in a long picture without loss more.
	Chunk int
}

// A Conn is a conversation with one device. It is not safe for concurrent use.
type Conn struct {
	s     Stream
	opt   Options
	split splitter
	got   []reply // frames received and not yet looked at
	tag   byte
	acted byte // tag of the last action
	hello Hello
	known bool // hello holds

	generation byte
	counter    uint16 // of frames drawn, in the last reply
	drawn      bool   // a reply since the device's start had another than 0
	up, down   int64  // bytes on the wire
	noise      int64
	resent     int64
	last       *knownFrame
	colours    *colours
	troubles   int64 // frames lost or rescued, as calm saw them last
	troubled   int64 // bytes that had come when it saw more of them
	mirror     mirror
	pace       pace
	deadline   time.Duration // of the look under way, on the stream's clock; 0: none
}

// Dial starts a conversation: it says hello and keeps the answer.
func Dial(ctx context.Context, s Stream, opt Options) (*Conn, error) {
	if opt.Patience == 0 {
		opt.Patience = 400 * time.Millisecond
	}
	if opt.Tries == 0 {
		opt.Tries = 4
	}
	if opt.Chunk == 0 {
		opt.Chunk = 512
	}
	if opt.Bound == 0 {
		opt.Bound = 30 * time.Second
	}
	c := &Conn{s: s, opt: opt, tag: byte(time.Now().UnixNano())}
	c.pace = pace{longest: opt.Patience, chunk: opt.Chunk, most: opt.Chunk}
	c.split = splitter{
		frame: func(body []byte) {
			if r, ok := parseReply(body); ok {
				c.got = append(c.got, r)
			}
		},
		line: func(text string) {
			if opt.Log != nil {
				opt.Log(LogLine{s.Now(), text})
			}
		},
		noise: func(n int) { c.noise += int64(n) },
	}
	if err := c.Greet(ctx); err != nil {
		return nil, err
	}
	return c, nil
}

// Greet says hello (again) and forgets what was known of the device.
func (c *Conn) Greet(ctx context.Context) error {
	c.known, c.last, c.mirror, c.colours, c.drawn = false, nil, mirror{}, nil, false
	data, r, err := c.fetch(ctx, kindHello, []byte{Version, Version})
	if err != nil {
		return fmt.Errorf("say hello: %w", err)
	}
	h, err := parseHello(data)
	if err != nil {
		return fmt.Errorf("hello: %w", err)
	}
	h.Boot = r.boot
	c.hello, c.known, c.generation = h, true, r.generation
	return nil
}

// Hello is what the device said of itself last.
func (c *Conn) Hello() Hello { return c.hello }

// Wire returns the bytes sent and received so far, framing and log text included.
func (c *Conn) Wire() (up, down int64) { return c.up, c.down }

// Trouble returns how often a request had to be sent again and how many bytes were neither
// frame nor text.
func (c *Conn) Trouble() (resent, noise int64) { return c.resent, c.noise }

// Now is the time on the stream's clock.
func (c *Conn) Now() time.Duration { return c.s.Now() }

// Close closes the stream.
func (c *Conn) Close() error { return c.s.Close() }

func (c *Conn) send(kind, tag byte, args []byte) error {
	f := EncodeFrame(append([]byte{kind, tag}, args...))
	c.up += int64(len(f))
	return c.s.Send(f)
}

// receive returns the next reply with that tag, or false when none came within wait. While a frame is coming in the line is not
// silent: wait then counts from the last byte.
func (c *Conn) receive(ctx context.Context, kind, tag byte, wait time.Duration) (reply, bool, error) {
	until := c.s.Now() + wait
	var buf [4096]byte
	for {
		for len(c.got) > 0 {
			r := c.got[0]
			c.got = c.got[1:]
			if r.kind != kind || r.tag != tag {
				continue // a late answer to something given up
			}
			if err := c.admit(r); err != nil {
				return r, false, err
			}
			return r, true, nil
		}
		if err := ctx.Err(); err != nil {
			return reply{}, false, err
		}
		now := c.s.Now()
		if c.deadline > 0 && now >= c.deadline {
			return reply{}, false, &BoundError{Bound: c.opt.Bound}
		}
		left := until - now
		if left <= 0 {
			return reply{}, false, nil
		}
		n, err := c.s.Receive(buf[:], min(left, 100*time.Millisecond))
		if err != nil {
			return reply{}, false, err
		}
		c.down += int64(n)
		c.split.feed(buf[:n])
		if n > 0 && c.split.midFrame() {
			until = max(until, c.s.Now()+wait)
		}
	}
}

// admit checks what every reply says: that the device is still the one that said hello.
func (c *Conn) admit(r reply) error {
	if c.known && r.boot != c.hello.Boot {
		return &RestartError{Before: c.hello.Boot, After: r.boot}
	}
	c.counter, c.drawn = r.counter, c.drawn || r.counter != 0
	return nil
}

// Counter tells the frame counter of the last reply, which moves with every change of a pixel, and whether anything at all was drawn
// since the device started: where it was not, what the panel shows is older than that.
func (c *Conn) Counter() (count uint16, any bool) { return c.counter, c.drawn }

// nextTag chooses the tag of a new request. The device answers a repeated action from memory by
// kind and tag, so the tag of the last action must not come round again for another one.
func (c *Conn) nextTag(kind byte) byte {
	c.tag++
	if kind >= kindInput {
		if c.tag == c.acted {
			c.tag++
		}
		c.acted = c.tag
	}
	return c.tag
}

// do sends a request until it is answered. extra is how long the device may rightly take.
func (c *Conn) do(ctx context.Context, kind byte, args []byte, extra time.Duration) (reply, error) {
	tag := c.nextTag(kind)
	for try := range c.opt.Tries {
		if try > 0 {
			c.resent++
			c.pace.late()
		}
		sent := c.s.Now()
		if err := c.send(kind, tag, args); err != nil {
			return reply{}, err
		}
		r, ok, err := c.receive(ctx, kind, tag, c.pace.wait()+extra)
		if err != nil {
			return reply{}, err
		}
		if !ok {
			continue
		}
		if try == 0 && extra == 0 {
			c.pace.took(c.s.Now() - sent)
		}
		return r, refusal(r.code)
	}
	return reply{}, c.silent()
}

func (c *Conn) silent() error {
	return fmt.Errorf("%w (asked %d times)", ErrSilent, c.opt.Tries)
}

// Listen takes in what the device prints for as long as wait, or until ctx is done.
func (c *Conn) Listen(ctx context.Context, wait time.Duration) error {
	_, _, err := c.receive(ctx, 0, 0, wait)
	return err
}
