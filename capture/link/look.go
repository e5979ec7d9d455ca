package link

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image/color"
	"time"

	"github.com/fascia-bench/fascia/capture"
)

// LookOptions say which picture is wanted.
type LookOptions struct {
	// Still is how long nothing may have changed; Latest is when to look anyway.
	Still, Latest time.Duration
	// Redraw has the device draw everything again first, on the panel too; otherwise the look is as
	// flushed and changes nothing.
	Redraw bool
	// Known are frames that the screen may well show: a golden, say. What is known is not sent.
	Known []*capture.Frame
}

// A Look is what a panel showed at one moment.
type Look struct {
	Frame  *capture.Frame
	Hash   uint64
	Moving bool          // it did not become still by LookOptions.Latest
	Took   time.Duration // from the request to the whole picture, settling included
	Bytes  int64         // on the wire, both ways

	// Redrawn means that, unasked, Frame is what the device draws now and not what was flushed: it has
	// no framebuffer and has flushed more than it remembers.
	Redrawn bool
	areas   uint16 // number of the last area flushed, with Strips
}

type knownFrame struct {
	frame *capture.Frame
	hash  hashes
}

// Look waits until the screen is still and returns what it shows. Nothing is handed on that
// does not have the device's own hash; where the device has no framebuffer, the mirror is made of
// such pictures.
func (c *Conn) Look(ctx context.Context, opt LookOptions) (Look, error) {
	start, up, down := c.s.Now(), c.up, c.down
	resent, noise := c.resent, c.noise
	c.deadline = start + opt.Latest + c.opt.Bound
	defer func() { c.deadline = 0 }()
	for range 4 {
		l, err := c.look(ctx, opt)
		if errors.Is(err, errDrawn) {
			continue
		}
		var late *BoundError
		if errors.As(err, &late) {
			late.Resent, late.Noise = c.resent-resent, c.noise-noise
		}
		l.Took = c.s.Now() - start
		l.Bytes = c.up - up + c.down - down
		return l, err
	}
	return Look{}, ErrMoving
}

// Hash is Look without the picture: it tells which picture there is, if not what it shows. A device without
// a framebuffer has no hash of what it flushed, so there it is ErrUnsupported.
func (c *Conn) Hash(ctx context.Context, opt LookOptions) (hash uint64, moving bool, err error) {
	if c.hello.Has(Strips) {
		return 0, false, ErrUnsupported
	}
	for range 4 {
		_, l, err := c.ask(ctx, opt, 0)
		if errors.Is(err, errDrawn) { // the panel turned meanwhile
			continue
		}
		return l.Hash, l.Moving, err
	}
	return 0, false, ErrMoving
}

// Settle waits until nothing has changed for still, at the latest until latest, and reports whether
// the screen was still moving then. It costs one exchange; no picture travels.
func (c *Conn) Settle(ctx context.Context, still, latest time.Duration) (moving bool, err error) {
	_, moving, err = c.Glance(ctx, still, latest)
	return moving, err
}

// Glance is Settle that also tells the hash of what the panel shows then.
func (c *Conn) Glance(ctx context.Context, still, latest time.Duration) (hash uint64, moving bool, err error) {
	_, l, err := c.ask(ctx, LookOptions{Still: still, Latest: latest}, 0)
	if errors.Is(err, errDrawn) {
		err = nil // the panel turned meanwhile, which is no harm here
	}
	return l.Hash, l.Moving, err
}

// Bits of LOOK's flags.
const (
	lookRedraw = 1
	lookHold   = 2
)

// ask is the LOOK exchange: when the screen is still, its hash.
func (c *Conn) ask(ctx context.Context, opt LookOptions, flags byte) (reply, Look, error) {
	if opt.Still < 0 || opt.Latest < opt.Still || opt.Latest.Milliseconds() > 0xffff {
		return reply{}, Look{}, fmt.Errorf("settle for %v, at the latest after %v, is not between 0 and 65 s", opt.Still, opt.Latest)
	}
	if opt.Redraw {
		flags |= lookRedraw
	}
	r, err := c.whenStill(ctx, flags, opt)
	if err != nil {
		return r, Look{}, err
	}
	strips := c.hello.Has(Strips)
	if len(r.payload) != 8 && !(strips && len(r.payload) == 10) {
		return r, Look{}, errors.New("the device's answer to a look has no hash")
	}
	l := Look{Hash: binary.LittleEndian.Uint64(r.payload), Moving: r.code == codeMoving}
	if strips {
		l.areas = binary.LittleEndian.Uint16(r.payload[8:])
	}
	if r.generation != c.generation { // the panel turned: size and format are new
		if err := c.Greet(ctx); err != nil {
			return r, Look{}, err
		}
		return r, l, errDrawn
	}
	return r, l, nil
}

func (c *Conn) look(ctx context.Context, opt LookOptions) (Look, error) {
	flags := byte(0)
	if c.hello.Has(CanHold) {
		flags = lookHold
	}
	r, l, err := c.ask(ctx, opt, flags)
	if err != nil {
		return Look{}, err
	}
	var palette []color.RGBA
	if c.hello.Format == capture.Palette8 {
		if palette, err = c.palette(ctx, r.counter); err != nil {
			return Look{}, err
		}
	}
	known := c.candidates(opt.Known)
	for _, k := range known {
		if k.hash.frame == l.Hash {
			l.Frame = k.frame.Clone()
			l.Frame.Palette = palette
			c.last = k
			return c.asFlushed(ctx, l, opt, r.counter)
		}
	}
	shown := capture.NewFrame(c.hello.Width, c.hello.Height, c.hello.Format)
	shown.Palette = palette
	err = c.assemble(ctx, shown, known, r.counter)
	if err != nil && !errors.Is(err, ErrPixels) {
		return Look{}, err
	}
	h := hashFrame(shown)
	// A tile of the same 32-bit hash may stand in for another, and a lesson of it spoil the pixels: rare, so all
	// of it is fetched.
	if err != nil || h.frame != l.Hash {
		if err := c.read(ctx, shown, nil, r.counter); err != nil {
			return Look{}, err
		}
		if h = hashFrame(shown); h.frame != l.Hash {
			return Look{}, errors.New("the picture does not have the hash that the device gave")
		}
	}
	l.Frame = shown
	c.last = &knownFrame{shown.Clone(), h}
	return c.asFlushed(ctx, l, opt, r.counter)
}

// nudge is how often LOOK is sent again while the screen may still be moving: a device that has the
// request ignores that, and one whose answer was lost answers again, so that a lost answer does not
// cost all of LookOptions.Latest.
const nudge = 500 * time.Millisecond

// whenStill sends LOOK until it is answered.
func (c *Conn) whenStill(ctx context.Context, flags byte, opt LookOptions) (reply, error) {
	tag := c.nextTag(kindLook)
	still, start := opt.Still.Milliseconds(), c.s.Now()
	for try := 0; ; try++ {
		waited := c.s.Now() - start
		if waited > opt.Latest && try >= c.opt.Tries && waited > opt.Latest+time.Duration(c.opt.Tries)*c.pace.longest {
			return reply{}, c.silent()
		}
		latest := max(opt.Latest-waited, 0).Milliseconds()
		if try > 0 {
			c.resent++
		}
		if err := c.send(kindLook, tag, []byte{flags, byte(still), byte(still >> 8), byte(latest), byte(latest >> 8)}); err != nil {
			return reply{}, err
		}
		wait := c.pace.wait()
		if waited < opt.Latest {
			wait = max(wait, min(opt.Still+nudge, opt.Latest-waited+wait))
		}
		r, ok, err := c.receive(ctx, kindLook, tag, wait)
		if err != nil {
			return reply{}, err
		}
		if ok {
			return r, refusal(r.code)
		}
	}
}
