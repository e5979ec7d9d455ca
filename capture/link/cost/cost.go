// Package cost measures what looks cost on the link: the real agent, compiled as a twin, and the
// real host exchange pictures, and the bytes between them are counted, both ways, framing included.
package cost

import (
	"context"
	_ "embed"
	"errors"
	"fmt"
	"image"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/twin"
)

// The device end with the light codec alone, and with the dense one too.
//
//go:generate sh build.sh
var (
	//go:embed panel-light.wasm
	lightPanel []byte
	//go:embed panel-dense.wasm
	densePanel []byte
)

// Options of Measure.
type Options struct {
	Format capture.Format // rgb565le if zero
	Baud   int            // 115200 if zero
	Light  bool           // the device has the light codec only
}

// A Figure is what one look costs.
type Figure struct {
	Bytes   int64   `json:"bytes"`   // both ways, framing included
	Seconds float64 `json:"seconds"` // of those bytes on the line, ten bits each
}

// A Result is what looks of picture A, and of B after A, cost.
type Result struct {
	Raw       int     `json:"raw"`       // bytes of the panel as it lies in memory
	Unchanged Figure  `json:"unchanged"` // A, to a host whose golden is A
	New       Figure  `json:"new"`       // A, to a host that knows nothing
	Change    *Figure `json:"change,omitempty"`
}

// Measure works out the cost of looks. b may be nil; otherwise it has a's size. A picture with
// colours that the format cannot show is shown as that format would, truncated.
func Measure(ctx context.Context, a, b image.Image, opt Options) (Result, error) {
	if opt.Format == 0 {
		opt.Format = capture.RGB565LE
	}
	if opt.Baud == 0 {
		opt.Baud = 115200
	}
	if opt.Format == capture.Palette8 {
		return Result{}, errors.New("cost of palette8: the palette of a picture is not known; use another format")
	}
	size := a.Bounds().Size()
	if size.X < 1 || size.Y < 1 || size.X > link.MaxSide || size.Y > link.MaxSide {
		return Result{}, fmt.Errorf("a picture of %dx%d is no panel's: 1 to %d a side", size.X, size.Y, link.MaxSide)
	}
	if b != nil && b.Bounds().Size() != size {
		return Result{}, fmt.Errorf("the pictures have different sizes, %v and %v", size, b.Bounds().Size())
	}
	wasm := densePanel
	if opt.Light {
		wasm = lightPanel
	}
	p, err := twin.Load(ctx, wasm)
	if err != nil {
		return Result{}, err
	}
	defer p.Close()
	first, _ := capture.FromImage(a, opt.Format, nil)
	r := Result{Raw: len(first.Pix)}
	figure := func(shown, golden *capture.Frame) (Figure, error) {
		n, err := look(ctx, p, shown, golden)
		return Figure{n, float64(n) * 10 / float64(opt.Baud)}, err
	}
	if r.New, err = figure(first, nil); err != nil {
		return Result{}, err
	}
	if r.Unchanged, err = figure(first, first); err != nil {
		return Result{}, err
	}
	if b == nil {
		return r, nil
	}
	second, _ := capture.FromImage(b, opt.Format, nil)
	change, err := figure(second, first)
	r.Change = &change
	return r, err
}

// look has a device show a frame and a host that has a golden look at it.
func look(ctx context.Context, p *twin.Program, shown, golden *capture.Frame) (int64, error) {
	t, err := p.Boot()
	if err != nil {
		return 0, err
	}
	defer t.Close()
	g := shown.Format.Grid(shown.Width, shown.Height)
	at, err := t.Call("panel_shape", uint64(shown.Width), uint64(shown.Height), uint64(shown.Format), uint64(g.Cells*g.CellBytes))
	if err != nil {
		return 0, err
	}
	if at == 0 {
		return 0, fmt.Errorf("%v is larger than the %d MiB that this can show", shown, 16)
	}
	if err := t.Write(uint32(at), shown.Pix); err != nil {
		return 0, err
	}
	c, err := link.Dial(ctx, t, link.Options{})
	if err != nil {
		return 0, err
	}
	opt := link.LookOptions{Still: 50 * time.Millisecond, Latest: time.Second}
	if golden != nil {
		opt.Known = []*capture.Frame{golden}
	}
	l, err := c.Look(ctx, opt)
	if err != nil {
		return 0, err
	}
	if link.HashFrame(l.Frame) != link.HashFrame(shown) {
		return 0, errors.New("the look is not what the panel shows")
	}
	return l.Bytes, nil
}
