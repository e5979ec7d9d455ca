package link

import (
	"bytes"
	"encoding/binary"
	"flag"
	"fmt"
	"hash/crc32"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture"
)

// A script is a Stream to a device made up in Go, on a clock of its own. It writes down what the host sends, when, and
// what it makes of the answers; the test says how the device behaves.
type script struct {
	t     *testing.T
	now   time.Duration
	log   strings.Builder
	first int // tag of the first request, -1 before it: tags are told as they differ from it
	down  []byte
	later []delivery

	// answer returns what comes over the line after a request, each part after its time.
	answer func(kind, tag byte, args []byte) []delivery
}

type delivery struct {
	after time.Duration
	wire  []byte
}

func (s *script) Now() time.Duration { return s.now }
func (s *script) Close() error       { s.say("close"); return nil }

func (s *script) say(format string, args ...any) {
	fmt.Fprintf(&s.log, "%7.1f "+format+"\n", append([]any{float64(s.now) / float64(time.Millisecond)}, args...)...)
}

// brief is bytes in hex, those of a long picture by their number and CRC.
func brief(b []byte) string {
	if len(b) > 48 {
		return fmt.Sprintf("%x … %d bytes, CRC %08x", b[:12], len(b), crc32.ChecksumIEEE(b))
	}
	return fmt.Sprintf("%x", b)
}

func (s *script) Send(p []byte) error {
	body, err := DecodeFrame(p[1 : len(p)-1])
	if err != nil {
		s.t.Fatalf("the host sends %x, which is no frame", p)
	}
	if s.first < 0 {
		s.first = int(body[1])
	}
	s.say("> %02x #%d %s", body[0], body[1]-byte(s.first), brief(body[2:]))
	at := s.now
	for _, d := range s.answer(body[0], body[1], body[2:]) {
		at += d.after
		s.later = append(s.later, delivery{at, d.wire})
	}
	return nil
}

func (s *script) Receive(p []byte, wait time.Duration) (int, error) {
	if len(s.down) == 0 {
		if len(s.later) == 0 || s.later[0].after > s.now+wait {
			s.now += wait
			return 0, nil
		}
		s.now = max(s.now, s.later[0].after)
		s.down, s.later = s.later[0].wire, s.later[1:]
	}
	n := copy(p, s.down)
	s.down = s.down[n:]
	return n, nil
}

// A mock is the device of a script: protocol version 1 with the codecs raw and runs, as plain as it can be.
type mock struct {
	hello      Hello
	frame      *capture.Frame
	generation byte
	counter    uint16
	code       byte          // of every reply
	areas      uint16        // number of the last area flushed
	flushed    []byte        // the reply to FLUSHED
	trip       time.Duration // before each reply
	list       string
	observed   []byte
	hash       uint64 // where it is not the frame's
	look       func() // before LOOK is answered
	// bend may change the replies to the n-th request, each with its head, or drop them.
	bend     func(n int, kind byte, replies [][]byte) [][]byte
	requests int
}

func newMock(w, h int, f capture.Format) *mock {
	m := &mock{trip: time.Millisecond, counter: 7, frame: capture.NewFrame(w, h, f), hello: Hello{Protocol: 1, Reset: 4, Width: w, Height: h, Format: f,
		MaxRequest: 64, Uptime: 5, Boot: 0x11223344, Device: "mist controller", Build: "v1", Firmware: "fern", Library: "draw-1",
		Can: 0xfff | CanRedraw | CanClock | CanFeed | CanList | CanPattern | CanReset | CanObserve | CanHold}}
	for i := range m.frame.Pix {
		m.frame.Pix[i] = byte(i*i>>4 ^ i/7)
	}
	return m
}

func helloBytes(h Hello) []byte {
	le := binary.LittleEndian
	b := []byte{byte(h.Protocol), byte(h.Reset), byte(h.Format)}
	b = le.AppendUint16(le.AppendUint16(le.AppendUint16(b, uint16(h.Width)), uint16(h.Height)), uint16(h.Colours))
	b = le.AppendUint32(le.AppendUint16(le.AppendUint32(b, uint32(h.Can)), uint16(h.MaxRequest)), h.Uptime)
	return append(b, strings.Join([]string{h.Device, h.Build, h.Firmware, h.Library}, "\x00")...)
}

func (m *mock) answer(kind, tag byte, args []byte) (out []delivery) {
	n := m.requests
	m.requests++
	if kind == kindLook && m.look != nil {
		m.look()
	}
	var replies [][]byte
	for _, payload := range m.payloads(kind, args) {
		b := []byte{kind | 0x80, tag, m.code | m.generation<<5}
		b = binary.LittleEndian.AppendUint16(binary.LittleEndian.AppendUint32(b, m.hello.Boot), m.counter)
		replies = append(replies, append(b, payload...))
	}
	if m.bend != nil {
		replies = m.bend(n, kind, replies)
	}
	trip := m.trip
	if le := binary.LittleEndian; kind == kindWait {
		trip += time.Duration(le.Uint32(args)) * time.Millisecond
	} else if kind == kindInput {
		trip += time.Duration(le.Uint16(args)) * time.Millisecond
	}
	for _, r := range replies {
		out = append(out, delivery{trip, EncodeFrame(r)})
	}
	return out
}

func (m *mock) payloads(kind byte, args []byte) [][]byte {
	le := binary.LittleEndian
	if kind == kindLook {
		hash := m.hash
		if hash == 0 {
			hash = HashFrame(m.frame)
		}
		b := le.AppendUint64(nil, hash)
		if m.hello.Has(Strips) {
			b = le.AppendUint16(b, m.areas)
		}
		return [][]byte{b}
	}
	if kind < kindHello || kind >= kindInput {
		return [][]byte{nil}
	}
	chunk, offset, length := int(le.Uint16(args)), int(args[2])|int(args[3])<<8|int(args[4])<<16, int(args[5])|int(args[6])<<8|int(args[7])<<16
	data := m.stream(kind, args[8:])
	end := len(data)
	if length > 0 {
		end = min(end, offset+length)
	}
	var out [][]byte
	for at := offset; at < end || at == offset; at += chunk {
		to := min(at+chunk, end)
		p := append([]byte{byte(at), byte(at >> 8), byte(at >> 16)}, data[at:to]...)
		tail := byte(tailMore)
		if to == len(data) {
			tail = tailEnd
		}
		out = append(out, append(p, tail))
	}
	return out
}

func (m *mock) stream(kind byte, args []byte) (b []byte) {
	le := binary.LittleEndian
	g := m.frame.Format.Grid(m.frame.Width, m.frame.Height)
	h := hashFrame(m.frame)
	switch kind {
	case kindHello:
		return helloBytes(m.hello)
	case kindBands:
		for _, w := range h.bands {
			b = le.AppendUint32(b, w)
		}
	case kindTiles:
		for ty := range g.Bands {
			for tx := range g.Tiles {
				if args[ty/8]>>(ty%8)&1 == 1 {
					b = le.AppendUint32(b, h.tiles[ty*g.Tiles+tx])
				}
			}
		}
	case kindRead:
		var rects []tileRect
		for a := args[1:]; len(a) > 0; a = a[4:] {
			rects = append(rects, tileRect{a[0], a[1], a[2], a[3]})
		}
		return encodePlainly(m.frame, rects, Codec(args[0]))
	case kindPalette:
		for _, c := range m.frame.Palette {
			b = append(b, c.R, c.G, c.B)
		}
	case kindList:
		return []byte(m.list)
	case kindObserved:
		return m.observed
	case kindFlushed:
		return m.flushed
	}
	return b
}

// encodePlainly codes cells raw, or as runs of what is on the left and literals.
func encodePlainly(f *capture.Frame, rects []tileRect, codec Codec) (out []byte) {
	s := newScan(f, rects)
	var cells []uint32
	for s.more() {
		cells = append(cells, s.value(s.at(s.x, s.y)))
		s.step()
	}
	cell := func(v uint32) {
		if f.Format == capture.RGB565BE {
			out = append(out, byte(v>>8), byte(v))
			return
		}
		for i := range s.width {
			out = append(out, byte(v>>(8*i)))
		}
	}
	left := uint32(0)
	for i := 0; i < len(cells); {
		n := 0
		for codec == CodecRuns && i+n < len(cells) && n < 62 && cells[i+n] == left {
			n++
		}
		if n > 0 {
			out = append(out, byte(n-1))
			i += n
			continue
		}
		if codec == CodecRuns {
			out = append(out, 0xe0)
		}
		cell(cells[i])
		left = cells[i]
		i++
	}
	return out
}

// play starts a conversation with a mock.
func play(t *testing.T, m *mock, opt Options) (*script, *Conn) {
	t.Helper()
	s := &script{t: t, first: -1, answer: m.answer}
	opt.Log = func(l LogLine) { s.say("log %q", l.Text) }
	c, err := Dial(t.Context(), s, opt)
	if err != nil {
		s.say("= %v", err)
	}
	return s, c
}

// holds compares what was written down with the file of that name, which -update writes.
func (s *script) holds(name string) {
	s.t.Helper()
	holdsText(s.t, name, s.log.String())
}

func holdsText(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", "said", name+".txt")
	if flag.Lookup("update").Value.String() == "true" {
		if err := os.WriteFile(file, []byte(got), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Equal(want, []byte(got)) {
		return
	}
	was, now := strings.Split(string(want), "\n"), strings.Split(got, "\n")
	for i := range max(len(was), len(now)) {
		if i >= len(was) || i >= len(now) || was[i] != now[i] {
			t.Fatalf("%s:%d: another conversation than was written down; if that is meant, go test -run %s -update\nwas %s\nnow %s",
				file, i+1, t.Name(), strings.Join(was[i:min(i+3, len(was))], "\n    "), strings.Join(now[i:min(i+3, len(now))], "\n    "))
		}
	}
}
