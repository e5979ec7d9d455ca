// Package simbench is a bench without hardware: a twin behind a TCP port and a simulated camera before its
// panel, which streams MJPEG over HTTP. Both are on loopback and are reached as a real device and a real camera
// are, so that what is tested through them is the real link and the real way of a photo.
//
// The camera sees the twin's framebuffer as simcam shows it. A Bench can be made to fail as rigs do: see Set.
package simbench

import (
	"context"
	"errors"
	"fmt"
	"image"
	"net"
	"net/http"
	"sync"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/twin"
)

// quality of the stream's JPEG: what a camera's better setting gives, common practice, no source.
const quality = 95

// A World is what a photo meets beside the screen itself.
type World struct {
	Shot  simcam.Shot         // glare, a bump, a hand, another exposure, lamps
	Glass func(m *image.RGBA) // what the glass does to the picture, such as a dead row; nil: nothing
	Gone  bool                // the camera is unplugged: it answers nobody
	Cut   bool                // its connection is cut in the midst of the first frame
	Other image.Image         // the panel shows this instead of what the device has drawn; nil: nothing
}

// A Bench is a device and its camera. Close ends both.
type Bench struct {
	mu    sync.Mutex // over all below
	p     *twin.Program
	t     *twin.Twin
	hello link.Hello
	at    uint32 // address of the framebuffer
	world World

	tcp, web net.Listener
	server   *http.Server
	wait     sync.WaitGroup
}

// Start boots a twin and sets a camera up before it. The twin must say where its pixels lie, see the README of
// package twin; its panel must be of the size that the camera's rig has.
func Start(ctx context.Context, wasm []byte, cam *simcam.Camera) (*Bench, error) {
	b := &Bench{}
	if err := b.Flash(ctx, wasm); err != nil {
		return nil, err
	}
	if b.hello.Width != cam.Rig.Width || b.hello.Height != cam.Rig.Height {
		return nil, errors.Join(fmt.Errorf("the twin's panel is %dx%d, the rig's %dx%d", b.hello.Width, b.hello.Height, cam.Rig.Width, cam.Rig.Height), b.Close())
	}
	var err error
	if b.tcp, err = net.Listen("tcp", "127.0.0.1:0"); err != nil {
		return nil, errors.Join(err, b.Close())
	}
	if b.web, err = net.Listen("tcp", "127.0.0.1:0"); err != nil {
		return nil, errors.Join(err, b.Close())
	}
	photos := cam.Handler(b.sees, quality)
	b.server = &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if b.now().Gone {
			<-r.Context().Done() // a cable that is pulled closes nothing
			return
		}
		if b.now().Cut {
			w = &cut{w}
		}
		photos.ServeHTTP(w, r)
	}), ReadHeaderTimeout: 10 * time.Second}
	b.wait.Go(func() { _ = b.server.Serve(b.web) }) // it ends with Close
	b.wait.Go(b.listen)
	return b, nil
}

// A cut connection takes half of the first frame.
type cut struct{ http.ResponseWriter }

func (c *cut) Write(p []byte) (int, error) {
	if _, err := c.ResponseWriter.Write(p[:len(p)/2]); err != nil {
		return 0, err
	}
	panic(http.ErrAbortHandler) // which is how net/http has a handler cut the line
}

// Link and Source are what bench.yaml writes: the device's link, and the camera's source.
func (b *Bench) Link() string { return "tcp:" + b.tcp.Addr().String() }

// Source is the camera's address.
func (b *Bench) Source() string { return "http://" + b.web.Addr().String() + "/" }

// Set says what the following photos meet.
func (b *Bench) Set(w World) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.world = w
}

func (b *Bench) now() World {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.world
}

// Flash puts another firmware onto the board and boots it.
func (b *Bench) Flash(ctx context.Context, wasm []byte) error {
	p, err := twin.Load(ctx, wasm)
	if err != nil {
		return err
	}
	hello, err := ask(ctx, p)
	if err != nil {
		return errors.Join(err, p.Close())
	}
	t, err := p.Boot()
	if err != nil {
		return errors.Join(err, p.Close())
	}
	at, err := t.Call("fascia_twin_panel")
	if err != nil {
		return errors.Join(fmt.Errorf("the twin does not say where its pixels lie: %w", err), p.Close())
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	old := b.p
	b.p, b.t, b.hello, b.at = p, t, hello, uint32(at)
	if old != nil {
		return old.Close()
	}
	return nil
}

// ask boots a device of its own to hear its hello.
func ask(ctx context.Context, p *twin.Program) (link.Hello, error) {
	t, err := p.Boot()
	if err != nil {
		return link.Hello{}, err
	}
	c, err := link.Dial(ctx, t, link.Options{})
	if err != nil {
		return link.Hello{}, errors.Join(err, t.Close())
	}
	hello := c.Hello()
	return hello, c.Close()
}

// sees is what the camera sees.
func (b *Bench) sees() (image.Image, simcam.Shot) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.world.Other != nil {
		return b.world.Other, b.world.Shot
	}
	f := &capture.Frame{Width: b.hello.Width, Height: b.hello.Height, Format: b.hello.Format}
	var err error
	g := f.Format.Grid(f.Width, f.Height)
	if f.Pix, err = b.t.Read(b.at, uint32(g.Cells*g.CellBytes*g.Rows)); err != nil {
		return image.NewRGBA(image.Rect(0, 0, f.Width, f.Height)), b.world.Shot // a device that is off is dark
	}
	m := f.RGBA()
	if b.world.Glass != nil {
		b.world.Glass(m)
	}
	return m, b.world.Shot
}

// Close ends the device and the camera.
func (b *Bench) Close() error {
	var errs []error
	if b.server != nil {
		errs = append(errs, b.server.Close())
	}
	if b.tcp != nil {
		errs = append(errs, b.tcp.Close())
	}
	b.mu.Lock()
	if b.p != nil {
		errs = append(errs, b.t.Close(), b.p.Close())
	}
	b.mu.Unlock()
	b.wait.Wait()
	return errors.Join(errs...)
}
