package line

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture"
)

// ErrNoFrame means that the deadline passed before a whole frame had arrived.
var ErrNoFrame = errors.New("no frame before the deadline")

// A Dump takes plain framebuffer dumps from a device without an agent: it sends some bytes and
// takes those of one frame. What it gets has no check sum; a byte lost on the way shows as a
// frame that is too short.
type Dump struct {
	s             *Stream
	send, after   string
	width, height int
	format        capture.Format
	size          int
}

// dumpQuiet is how long the line must be quiet for a frame to count as whole.
const dumpQuiet = 300 * time.Millisecond

// OpenDump opens what stands after "dump:": a link with, behind its question mark, send=BYTES
// (\r, \n and \xNN are understood), format=NAME, size=WxH and, if the device prints something
// before the pixels, after=TEXT, the last of it.
func OpenDump(ctx context.Context, text string, opt Options) (*Dump, error) {
	where, v, err := splitQuery(text, "baud", "send", "format", "size", "after")
	if err != nil {
		return nil, fmt.Errorf("dump link %q: %w", text, err)
	}
	d := &Dump{}
	if d.format, err = capture.ParseFormat(v.Get("format")); err != nil {
		return nil, fmt.Errorf("dump link %q: %w", text, err)
	}
	if d.width, d.height, err = ParseSize(v.Get("size")); err != nil {
		return nil, fmt.Errorf("dump link %q: %w", text, err)
	}
	for name, to := range map[string]*string{"send": &d.send, "after": &d.after} {
		if *to, err = strconv.Unquote(`"` + strings.ReplaceAll(v.Get(name), `"`, `\"`) + `"`); err != nil {
			return nil, fmt.Errorf("dump link %q: %s is not text with \\r, \\n, \\xNN: %w", text, name, err)
		}
	}
	if b := v.Get("baud"); b != "" {
		where += "?baud=" + b
	}
	d.size = len(capture.NewFrame(d.width, d.height, d.format).Pix)
	if d.s, err = Open(ctx, where, opt); err != nil {
		return nil, err
	}
	return d, nil
}

// ParseSize reads WIDTHxHEIGHT, both 1 to 4080.
func ParseSize(text string) (width, height int, err error) {
	w, h, ok := strings.Cut(text, "x")
	width, errW := strconv.Atoi(w)
	height, errH := strconv.Atoi(h)
	if !ok || errW != nil || errH != nil || width < 1 || height < 1 || width > 4080 || height > 4080 {
		return 0, 0, fmt.Errorf("size %q is not WIDTHxHEIGHT, each from 1 to 4080", text)
	}
	return width, height, nil
}

// Grab asks for a dump and returns it, or ErrNoFrame when ctx is done before it is whole. More
// bytes than a frame has are an error too: which of them are the frame cannot be known.
func (d *Dump) Grab(ctx context.Context) (*capture.Frame, error) {
	buf := make([]byte, 16<<10)
	for { // what the device printed before
		n, err := d.s.Receive(buf, 20*time.Millisecond)
		if err != nil {
			return nil, err
		}
		if n == 0 {
			break
		}
		if ctx.Err() != nil {
			return nil, fmt.Errorf("%w: the device prints without pause", ErrNoFrame)
		}
	}
	if err := d.s.Send([]byte(d.send)); err != nil {
		return nil, err
	}
	var got []byte
	for last := d.s.Now(); len(d.pixels(got)) < d.size || d.s.Now()-last < dumpQuiet; {
		if ctx.Err() != nil {
			return nil, fmt.Errorf("%w: %d of %d bytes came", ErrNoFrame, len(d.pixels(got)), d.size)
		}
		n, err := d.s.Receive(buf, 50*time.Millisecond)
		if err != nil {
			return nil, err
		}
		if n > 0 {
			got, last = append(got, buf[:n]...), d.s.Now()
		}
		if len(got) > 2*d.size+1<<16 {
			break
		}
	}
	pix := d.pixels(got)
	if len(pix) != d.size {
		return nil, fmt.Errorf("the device sent %d bytes for a panel of %dx%d %v, which has %d: if it prints something before, say after=TEXT",
			len(pix), d.width, d.height, d.format, d.size)
	}
	f := capture.NewFrame(d.width, d.height, d.format)
	copy(f.Pix, pix)
	return f, nil
}

// pixels is what of the bytes that came belongs to the frame.
func (d *Dump) pixels(got []byte) []byte {
	if d.after == "" {
		return got
	}
	_, rest, _ := bytes.Cut(got, []byte(d.after))
	return rest
}

// Close closes the line.
func (d *Dump) Close() error { return d.s.Close() }
