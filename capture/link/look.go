package link

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image/color"
	"slices"
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
	shown := capture.NewFrame(c.hello.Width, c.hello.Height, c.hello.Format)
	if shown.Format == capture.Palette8 {
		if shown.Palette, err = c.palette(ctx); err != nil {
			return Look{}, err
		}
	}
	known := c.candidates(shown, opt.Known)
	for _, k := range known {
		if k.hash.frame == l.Hash {
			l.Frame = k.frame.Clone()
			l.Frame.Palette = shown.Palette
			c.last = k
			return c.asFlushed(ctx, l, opt, r.counter)
		}
	}
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

// candidates are the frames that the screen is compared with before anything is sent.
func (c *Conn) candidates(shown *capture.Frame, offered []*capture.Frame) []*knownFrame {
	var known []*knownFrame
	for _, f := range offered {
		if shown.SameShape(f) {
			known = append(known, &knownFrame{f, hashFrame(f)})
		}
	}
	if c.last != nil && shown.SameShape(c.last.frame) {
		known = append(known, c.last)
	}
	return known
}

// assemble fills shown: bands and tiles that a known frame has at the same place are copied,
// the rest is read.
func (c *Conn) assemble(ctx context.Context, shown *capture.Frame, known []*knownFrame, counter uint16) error {
	g := shown.Format.Grid(shown.Width, shown.Height)
	if len(known) == 0 {
		return c.read(ctx, shown, nil, counter)
	}
	bands, err := c.words(ctx, kindBands, nil, g.Bands, counter)
	if err != nil {
		return err
	}
	var changed []int
	for ty, h := range bands {
		if k := holder(known, func(k *knownFrame) bool { return k.hash.bands[ty] == h }); k != nil {
			copyTiles(shown, k.frame, g, 0, ty, g.Tiles)
			continue
		}
		changed = append(changed, ty)
	}
	need := make([]bool, g.Tiles*g.Bands)
	for _, ty := range changed {
		for tx := range g.Tiles {
			need[ty*g.Tiles+tx] = true
		}
	}
	// Where many bands are new it is a new screen, for which tile hashes would cost more than they
	// save, or one that has scrolled: two bands tell.
	ask, rest := changed, []int(nil)
	if n := len(changed); n > 4 {
		ask = []int{changed[n/3], changed[2*n/3]}
		rest = slices.DeleteFunc(slices.Clone(changed), func(ty int) bool { return slices.Contains(ask, ty) })
	}
	sources := make([]source, g.Tiles*g.Bands)
	placed, err := c.placeTiles(ctx, shown, known, ask, need, sources, counter)
	if err != nil {
		return err
	}
	if rest = moved(shown, g, bands, need, sources, ask, rest); len(rest) > 0 && placed*4 >= len(ask)*g.Tiles {
		if _, err := c.placeTiles(ctx, shown, known, rest, need, sources, counter); err != nil {
			return err
		}
	}
	rects := join(need, g)
	if len(rects) == 0 {
		return nil
	}
	perRequest := (c.hello.MaxRequest-2-9)/4 - 1
	for len(rects) > 0 {
		n := min(perRequest, len(rects))
		request := rects[:n]
		if l, ok := lesson(shown, g, request, need); ok && c.codec() == CodecKeyed {
			request = append([]tileRect{l}, request...)
		}
		if err := c.read(ctx, shown, request, counter); err != nil {
			return err
		}
		rects = rects[n:]
	}
	return nil
}

// placeTiles fetches the tile hashes of some bands, and copies the tiles that a known frame has, there
// or anywhere; those are struck off need. It returns how many that were.
func (c *Conn) placeTiles(ctx context.Context, shown *capture.Frame, known []*knownFrame, bands []int, need []bool, sources []source, counter uint16) (int, error) {
	g := shown.Format.Grid(shown.Width, shown.Height)
	set := make([]byte, (g.Bands+7)/8)
	for _, ty := range bands {
		set[ty/8] |= 1 << (ty % 8)
	}
	tiles, err := c.words(ctx, kindTiles, set, len(bands)*g.Tiles, counter)
	if err != nil {
		return 0, err
	}
	placed := 0
	wanted := map[uint32][]int{}
	for i, h := range tiles {
		tx, ty := i%g.Tiles, bands[i/g.Tiles]
		n := ty*g.Tiles + tx
		if k := holder(known, func(k *knownFrame) bool { return k.hash.tiles[n] == h }); k != nil {
			copyTiles(shown, k.frame, g, tx, ty, 1)
			sources[n] = source{in: k.frame}
			need[n] = false
			placed++
		} else if (tx+1)*g.TileCells <= g.Cells && (ty+1)*g.TileRows <= g.Rows {
			wanted[h] = append(wanted[h], n)
		}
	}
	findWindows(known, wanted, func(n int, in *capture.Frame, x, y int) {
		tx, ty := n%g.Tiles, n/g.Tiles
		sources[n] = source{in, x - tx*g.TileCells, y - ty*g.TileRows}
		copySource(shown, g, sources[n], tx, ty)
		need[n] = false
		placed++
	})
	return placed, nil
}

func holder(known []*knownFrame, has func(*knownFrame) bool) *knownFrame {
	for _, k := range known {
		if has(k) {
			return k
		}
	}
	return nil
}

// words fetches n hashes of 32 bits.
func (c *Conn) words(ctx context.Context, kind byte, args []byte, n int, counter uint16) ([]uint32, error) {
	data, r, err := c.fetch(ctx, kind, args)
	if err != nil {
		return nil, err
	}
	if r.counter != counter {
		return nil, errDrawn
	}
	if len(data) != 4*n {
		return nil, fmt.Errorf("the device sends %d bytes of hashes, not %d: it and the host disagree about the panel's size", len(data), 4*n)
	}
	w := make([]uint32, n)
	for i := range w {
		w[i] = binary.LittleEndian.Uint32(data[4*i:])
	}
	return w, nil
}

// learnCell is the time that a slow device may take to learn a cell: some 150 instructions at 16 MHz, twice.
const learnCell = 20 * time.Microsecond

// read fetches rectangles of tiles; none means the whole panel.
func (c *Conn) read(ctx context.Context, shown *capture.Frame, rects []tileRect, counter uint16) error {
	codec := c.codec()
	args := []byte{byte(codec)}
	var head time.Duration
	for _, r := range rects {
		args = append(args, r.x, r.y, r.w, r.h)
		if r.x&knownRect != 0 {
			g := shown.Format.Grid(shown.Width, shown.Height)
			head += time.Duration(int(r.w)*int(r.h)*g.TileCells*g.TileRows) * learnCell
		}
	}
	data, r, err := c.fetchLate(ctx, kindRead, args, head)
	if err != nil {
		return err
	}
	if r.counter != counter {
		return errDrawn
	}
	if err := decodePixels(shown, rects, codec, data); err != nil {
		return fmt.Errorf("%w; do host and device agree about the panel's size and format?", err)
	}
	return nil
}

// codec is the one with the fewest bytes that the device has.
func (c *Conn) codec() Codec {
	switch {
	case c.hello.Has(CanKeyed):
		return CodecKeyed
	case c.hello.Has(CanDense):
		return CodecDense
	}
	return CodecRuns
}

func (c *Conn) palette(ctx context.Context) ([]color.RGBA, error) {
	data, _, err := c.fetch(ctx, kindPalette, nil)
	if err != nil {
		return nil, err
	}
	if len(data) != 3*c.hello.Colours {
		return nil, fmt.Errorf("the device sends %d bytes of palette, not %d", len(data), 3*c.hello.Colours)
	}
	p := make([]color.RGBA, c.hello.Colours)
	for i := range p {
		p[i] = color.RGBA{data[3*i], data[3*i+1], data[3*i+2], 255}
	}
	return p, nil
}

// copyTiles copies n tiles of a band.
func copyTiles(to, from *capture.Frame, g capture.Grid, tx, ty, n int) {
	stride := g.Cells * g.CellBytes
	x0 := tx * g.TileCells * g.CellBytes
	x1 := min(x0+n*g.TileCells*g.CellBytes, stride)
	for y := ty * g.TileRows; y < min((ty+1)*g.TileRows, g.Rows); y++ {
		copy(to.Pix[y*stride+x0:y*stride+x1], from.Pix[y*stride+x0:])
	}
}

// join gathers tiles into rectangles: runs within a band, and runs of equal extent below one
// another. Coding rectangles saves a third against coding tiles (the codec's state runs on).
func join(need []bool, g capture.Grid) []tileRect {
	var rects []tileRect
	open := map[[2]int]int{} // extent of a run in the band above -> its rectangle
	for ty := range g.Bands {
		next := map[[2]int]int{}
		for tx := 0; tx < g.Tiles; tx++ {
			if !need[ty*g.Tiles+tx] {
				continue
			}
			x := tx
			for tx < g.Tiles && need[ty*g.Tiles+tx] {
				tx++
			}
			span := [2]int{x, tx - x}
			if i, ok := open[span]; ok {
				rects[i].h++
				next[span] = i
				continue
			}
			next[span] = len(rects)
			rects = append(rects, tileRect{byte(x), byte(ty), byte(tx - x), 1})
		}
		open = next
	}
	return rects
}
