package link

import (
	"bytes"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture"
)

// A workedFrame is a line of the fenced block of PROTOCOL.md.
type workedFrame struct {
	line  int
	up    bool // to the device
	wire  []byte
	about string
}

func workedFrames(t testing.TB) []workedFrame {
	t.Helper()
	frames := workedBlock(t, "frames")
	if len(frames) < 40 {
		t.Fatalf("PROTOCOL.md has %d worked frames; it had 45", len(frames))
	}
	return frames
}

// workedBlock reads the fenced block of that name.
func workedBlock(t testing.TB, name string) []workedFrame {
	t.Helper()
	page, err := os.ReadFile("PROTOCOL.md")
	if err != nil {
		t.Fatal(err)
	}
	var frames []workedFrame
	inside := false
	for i, l := range strings.Split(string(page), "\n") {
		if strings.HasPrefix(l, "```") {
			inside = l == "```"+name
			continue
		}
		if !inside {
			continue
		}
		f := workedFrame{line: i + 1, up: l[0] == '>'}
		hexes, about, _ := strings.Cut(l[2:], "   ")
		f.about = about
		if f.wire, err = hex.DecodeString(strings.ReplaceAll(hexes, " ", "")); err != nil {
			t.Fatalf("PROTOCOL.md:%d: %v", i+1, err)
		}
		frames = append(frames, f)
	}
	return frames
}

// workedPanel is the panel that PROTOCOL.md describes in words.
func workedPanel() *capture.Frame {
	f := capture.NewFrame(40, 18, capture.Grey8)
	for y := range 18 {
		for x := range 40 {
			f.Pix[y*40+x] = byte(3 * x)
			if 4 <= x && x < 12 && 4 <= y && y < 9 {
				f.Pix[y*40+x] = 255
			}
		}
	}
	return f
}

func TestWorkedFramesAreFrames(t *testing.T) {
	for _, f := range append(workedFrames(t), workedBlock(t, "strips")...) {
		body, err := DecodeFrame(f.wire[1 : len(f.wire)-1])
		if err != nil {
			t.Errorf("PROTOCOL.md:%d: %v", f.line, err)
			continue
		}
		if again := EncodeFrame(body); !bytes.Equal(again, f.wire) {
			t.Errorf("PROTOCOL.md:%d: encoded again it is % x", f.line, again)
		}
		if f.up == (body[0]&0x80 != 0) {
			t.Errorf("PROTOCOL.md:%d: kind %#02x goes the wrong way", f.line, body[0])
		}
	}
}

// workedReply returns the reply that follows the request whose remark begins with about.
func workedReply(t *testing.T, about string) (request []byte, r reply) {
	t.Helper()
	frames := workedFrames(t)
	i := slices.IndexFunc(frames, func(f workedFrame) bool { return strings.HasPrefix(f.about, about) })
	if i < 0 || i+1 >= len(frames) || frames[i+1].up {
		t.Fatalf("PROTOCOL.md has no worked request %q with a reply", about)
	}
	request, err := DecodeFrame(frames[i].wire[1 : len(frames[i].wire)-1])
	if err != nil {
		t.Fatal(err)
	}
	body, err := DecodeFrame(frames[i+1].wire[1 : len(frames[i+1].wire)-1])
	if err != nil {
		t.Fatal(err)
	}
	r, ok := parseReply(body)
	if !ok || r.boot != 0x11223344 || r.counter != 7 || r.generation != 0 || r.kind != request[0] || r.tag != request[1] {
		t.Fatalf("%s: the reply's head is %+v, %v", about, r, ok)
	}
	return request, r
}

func TestWorkedHello(t *testing.T) {
	_, r := workedReply(t, "hello")
	p, ok := parsePiece(r.payload)
	if !ok || p.offset != 0 || p.tail != tailEnd {
		t.Fatalf("piece %+v, %v", p, ok)
	}
	h, err := parseHello(p.data)
	if err != nil {
		t.Fatal(err)
	}
	want := Hello{Protocol: 1, Reset: 1, Width: 40, Height: 18, Format: capture.Grey8, MaxRequest: 128,
		Device: "worked", Build: "b1", Firmware: "demo 1", Library: "draw-1", Can: h.Can, Uptime: h.Uptime}
	if h != want {
		t.Errorf("hello = %+v, want %+v", h, want)
	}
	if !h.Has(CanRedraw|CanClock|CanFeed|CanList|CanReset|CanObserve|CanHold|FlushedIsShown) || h.Has(CanPattern) {
		t.Errorf("capabilities %#x", uint32(h.Can))
	}
	if !h.Takes(TouchDown) || !h.Takes(Roll) || h.Takes(Roll+1) || h.Reset.String() != "power" {
		t.Errorf("inputs of %#x, reset %v", uint32(h.Can), h.Reset)
	}
}

func TestWorkedHashes(t *testing.T) {
	want := hashFrame(workedPanel())
	_, look := workedReply(t, "look, still")
	if got := binary.LittleEndian.Uint64(look.payload); got != want.frame || look.code != codeOK {
		t.Errorf("frame hash %016x, code %d; computed here %016x", got, look.code, want.frame)
	}
	if HashFrame(workedPanel()) != want.frame {
		t.Error("HashFrame differs from hashFrame")
	}
	words := func(about string) []uint32 {
		_, r := workedReply(t, about)
		p, _ := parsePiece(r.payload)
		var w []uint32
		for d := p.data; len(d) >= 4; d = d[4:] {
			w = append(w, binary.LittleEndian.Uint32(d))
		}
		return w
	}
	if got := words("bands"); !slices.Equal(got, want.bands) {
		t.Errorf("bands %08x, computed here %08x", got, want.bands)
	}
	if got := words("tiles of the second band"); !slices.Equal(got, want.tiles[2:]) {
		t.Errorf("tiles %08x, computed here %08x", got, want.tiles[2:])
	}
}

func TestWorkedPixels(t *testing.T) {
	want := workedPanel()
	_, r := workedReply(t, "read all, runs")
	p, _ := parsePiece(r.payload)
	got := capture.NewFrame(40, 18, capture.Grey8)
	if err := decodePixels(got, nil, CodecRuns, p.data); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got.Pix, want.Pix) {
		t.Error("the run-coded pixels are not the panel's")
	}
	// Tile (1,0) raw: columns 32 to 39 of the first 16 rows; its bytes 100 to 119, ten a piece.
	var tile []byte
	for y := range 16 {
		tile = append(tile, want.Pix[y*40+32:y*40+40]...)
	}
	frames := workedFrames(t)
	i := slices.IndexFunc(frames, func(f workedFrame) bool { return strings.HasPrefix(f.about, "read tile 1,0, raw") })
	for k, offset := range []int{100, 110} {
		body, err := DecodeFrame(frames[i+1+k].wire[1 : len(frames[i+1+k].wire)-1])
		if err != nil {
			t.Fatal(err)
		}
		r, _ := parseReply(body)
		p, ok := parsePiece(r.payload)
		if !ok || p.offset != offset || p.tail != tailMore || !bytes.Equal(p.data, tile[offset:offset+10]) {
			t.Errorf("piece %d: %+v, want % x at %d", k, p, tile[offset:offset+10], offset)
		}
	}
}

// Where there is no palette its stream is empty.
func TestWorkedPalette(t *testing.T) {
	_, r := workedReply(t, "palette: this device has none")
	if p, ok := parsePiece(r.payload); !ok || r.code != codeOK || len(p.data) != 0 || p.tail != tailEnd {
		t.Errorf("%+v", r)
	}
}

// Every refusal on the page is the error that a caller sees.
func TestWorkedRefusals(t *testing.T) {
	for about, want := range map[string]error{"feed, unknown name": ErrUnknownName, "feed, bad value": ErrBadValue,
		"an unknown kind": ErrUnsupported} {
		if _, r := workedReply(t, about); !errors.Is(refusal(r.code), want) {
			t.Errorf("%s: code %d gives %v, want %v", about, r.code, refusal(r.code), want)
		}
	}
}

// strict are the flags under which the device end must compile and run clean.
var strict = []string{"-std=c99", "-Wall", "-Wextra", "-Wconversion", "-pedantic", "-Werror", "-g", "-O1",
	"-fsanitize=address,undefined", "-fno-sanitize-recover=all"}

// compile builds C files of agent/test together with the agent.
func compile(t testing.TB, flags []string, files ...string) string {
	t.Helper()
	program := filepath.Join(t.TempDir(), "program")
	args := append(append(slices.Clone(strict), flags...), "-o", program, "agent/fascia_agent.c")
	for _, f := range files {
		args = append(args, filepath.Join("agent/test", f))
	}
	if out, err := exec.Command("gcc", args...).CombinedOutput(); err != nil {
		t.Fatalf("gcc %s: %v\n%s(the device end is C99 and is tested as such; on Debian: apt install gcc libc6-dev)",
			strings.Join(args, " "), err, out)
	}
	return program
}

func TestStripAgentPlaysTheWorkedFrames(t *testing.T) {
	out, err := exec.Command(compile(t, []string{"-DFASCIA_STRIP=1"}, "worked_test.c"), "PROTOCOL.md").CombinedOutput()
	if err != nil || !strings.Contains(string(out), "7 requests, 7 replies, 0 wrong; 0 reset") {
		t.Fatalf("%v\n%s", err, out)
	}
}

// The host reads the page's strips as the page says: the same hash and tiles as with a framebuffer, and
// the whole panel as the first area flushed.
func TestWorkedStrips(t *testing.T) {
	replies := map[byte]reply{}
	for _, f := range workedBlock(t, "strips") {
		body, err := DecodeFrame(f.wire[1 : len(f.wire)-1])
		if err != nil {
			t.Fatal(err)
		}
		if r, ok := parseReply(body); ok && !f.up {
			replies[r.tag] = r
		}
	}
	piece := func(tag byte) []byte {
		p, ok := parsePiece(replies[tag].payload)
		if !ok || p.offset != 0 || p.tail != tailEnd {
			t.Fatalf("reply %d: %+v", tag, p)
		}
		return p.data
	}
	h, err := parseHello(piece(1))
	if err != nil || !h.Has(Strips) || h.Has(FlushedIsShown) {
		t.Errorf("%+v, %v", h, err)
	}
	want := workedPanel()
	sums := hashFrame(want)
	for tag, area := range map[byte]uint16{2: 1, 6: 2} {
		p := replies[tag].payload
		if len(p) != 10 || binary.LittleEndian.Uint64(p) != sums.frame || binary.LittleEndian.Uint16(p[8:]) != area {
			t.Errorf("look %d: % x, want %x and area %d", tag, p, sums.frame, area)
		}
	}
	if got := piece(3); !bytes.Equal(got, []byte{1, 0, 0, 0, 0, 0, 40, 0, 18, 0}) {
		t.Errorf("areas % x", got)
	}
	if got := piece(4); binary.LittleEndian.Uint32(got) != sums.tiles[2] || binary.LittleEndian.Uint32(got[4:]) != sums.tiles[3] {
		t.Errorf("tiles % x, want %x", got, sums.tiles[2:])
	}
	shown := want.Clone()
	for y := range 18 {
		clear(shown.Pix[y*40+32 : y*40+40])
	}
	if err := decodePixels(shown, []tileRect{{1, 0, 1, 2}}, CodecRuns, piece(5)); err != nil || !bytes.Equal(shown.Pix, want.Pix) {
		t.Errorf("the tiles read are not the panel's: %v", err)
	}
	if code := replies[7].code; !errors.Is(refusal(code), ErrUnsupported) {
		t.Errorf("code %d", code)
	}
}

func TestAgentPlaysTheWorkedFrames(t *testing.T) {
	out, err := exec.Command(compile(t, nil, "worked_test.c"), "PROTOCOL.md").CombinedOutput()
	if err != nil || !strings.Contains(string(out), "22 requests, 23 replies, 0 wrong; 1 reset") {
		t.Fatalf("%v\n%s", err, out)
	}
}
