package link_test

import (
	"bytes"
	"encoding/binary"
	"os"
	"testing"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/capturetest"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/twin"
)

// collide changes two words in the first row of a tile of rgb565 so that its 32-bit hash, of PROTOCOL.md, stays: the
// second undoes, weighed, what the first did. Every step of the hash but the sum can be undone.
func collide(f *capture.Frame, tx, ty int) {
	mix := func(x uint32) uint32 {
		x = (x ^ x>>16) * 0x7feb352d
		x = (x ^ x>>15) * 0x846ca68b
		return x ^ x>>16
	}
	inverse := func(x uint32) uint32 { // of an odd number, modulo 2^32: each step doubles the bits that are right
		y := x
		for range 5 {
			y *= 2 - x*y
		}
		return y
	}
	const m = 0x9e3779b1
	u := func(w uint32) uint32 { w = (w ^ 0x5bd1e995) * m; return w ^ w>>15 }
	undo := func(u uint32) uint32 { return (u^u>>15^u>>30)*inverse(m) ^ 0x5bd1e995 }
	row := f.Pix[ty*16*f.Width*2+tx*64:]
	first, second := binary.LittleEndian.Uint32(row), binary.LittleEndian.Uint32(row[4:])
	other := first ^ 0x00ff1234
	binary.LittleEndian.PutUint32(row, other)
	shift := (mix(1) | 1) * (u(other) - u(first)) * inverse(mix(2)|1)
	binary.LittleEndian.PutUint32(row[4:], undo(u(second)-shift))
}

// A golden's tile of the same hash as the one shown is taken for it; the frame's hash tells, and all is fetched. The
// device then has learnt from another rectangle than the host, if there was one to read beside that tile.
func TestATileOfTheSameHash(t *testing.T) {
	wasm, err := os.ReadFile("cost/panel-dense.wasm")
	if err != nil {
		t.Fatal(err)
	}
	p, err := twin.Load(t.Context(), wasm)
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	shown := capture.NewFrame(320, 240, capture.RGB565LE)
	capturetest.Paint(shown, 11)
	for _, changed := range []bool{false, true} {
		d, err := p.Boot()
		if err != nil {
			t.Fatal(err)
		}
		at, err := d.Call("panel_shape", 320, 240, uint64(shown.Format), 640)
		if err != nil {
			t.Fatal(err)
		}
		if err := d.Write(uint32(at), shown.Pix); err != nil {
			t.Fatal(err)
		}
		golden := shown.Clone()
		collide(golden, 3, 3)
		if bytes.Equal(golden.Pix, shown.Pix) || link.HashFrame(golden) == link.HashFrame(shown) {
			t.Fatal("the golden is no other frame")
		}
		if changed {
			capturetest.PaintArea(golden, 5, 90, 64, 60, 40)
		}
		c := dial(t, d, link.Options{})
		l := look(t, c, link.LookOptions{Still: soon.Still, Latest: soon.Latest, Known: []*capture.Frame{golden}})
		same(t, "beside a tile of the same hash", l.Frame, shown)
		whole := look(t, dial(t, d, link.Options{}), soon)
		if l.Bytes <= whole.Bytes {
			t.Errorf("%d bytes moved, not more than the %d of the whole panel: was the tile taken for the other?", l.Bytes, whole.Bytes)
		}
	}
}
