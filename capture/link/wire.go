package link

import (
	"encoding/binary"
	"errors"
	"fmt"
	"strings"

	"github.com/fascia-bench/fascia/capture"
)

// Version is the protocol version that this end speaks.
const Version = 1

// Kinds of request; a reply has the high bit set. PROTOCOL.md, section "Messages".
const (
	kindLook     = 0x01
	kindRelease  = 0x02
	kindHello    = 0x10
	kindBands    = 0x11
	kindTiles    = 0x12
	kindRead     = 0x13
	kindPalette  = 0x14
	kindList     = 0x15
	kindObserved = 0x16
	kindFlushed  = 0x17
	kindInput    = 0x20
	kindWait     = 0x21
	kindClock    = 0x22
	kindFeed     = 0x23
	kindPattern  = 0x24
	kindObserve  = 0x25
	kindReset    = 0x26
)

// Codes in the low nibble of a reply's status.
const (
	codeOK          = 0
	codeMoving      = 1
	codeUnknown     = 2
	codeMalformed   = 3
	codeUnknownName = 4
	codeBadValue    = 5
	codeUnsupported = 7
)

// Last byte of a piece of a stream.
const (
	tailMore = 0
	tailEnd  = 1
	tailVoid = 2
)

// Errors that a caller may want to tell apart.
var (
	ErrSilent      = errors.New("the device does not answer")
	ErrUnknownName = errors.New("the device does not know that name")
	ErrBadValue    = errors.New("the device refuses that value")
	ErrUnsupported = errors.New("the device cannot do that")
	ErrMoving      = errors.New("the screen kept changing while it was being sent")
)

// A RestartError says that the device started anew although nobody asked it to.
type RestartError struct {
	Before, After uint32 // boot ids
}

func (e *RestartError) Error() string { return "the device restarted" }

func refusal(code byte) error {
	switch code {
	case codeOK, codeMoving:
		return nil
	case codeUnknownName:
		return ErrUnknownName
	case codeBadValue:
		return ErrBadValue
	case codeUnknown, codeUnsupported:
		return ErrUnsupported
	case codeMalformed:
		return errors.New("the device calls the request malformed; do host and agent speak the same protocol version?")
	}
	return fmt.Errorf("the device answers with the unknown code %d", code)
}

// A reply is a frame from the device, taken apart.
type reply struct {
	kind, tag  byte
	code       byte
	generation byte // of the panel's geometry
	boot       uint32
	counter    uint16 // of frames drawn
	payload    []byte
}

const replyHeader = 9

func parseReply(body []byte) (reply, bool) {
	if len(body) < replyHeader || body[0]&0x80 == 0 {
		return reply{}, false
	}
	return reply{
		kind: body[0] & 0x7f, tag: body[1], code: body[2] & 15, generation: body[2] >> 5,
		boot: binary.LittleEndian.Uint32(body[3:]), counter: binary.LittleEndian.Uint16(body[7:]), payload: body[9:],
	}, true
}

// A piece is the payload of a reply that carries part of a stream.
type piece struct {
	offset int
	data   []byte
	tail   byte
}

func parsePiece(p []byte) (piece, bool) {
	if len(p) < 4 {
		return piece{}, false
	}
	return piece{int(p[0]) | int(p[1])<<8 | int(p[2])<<16, p[3 : len(p)-1], p[len(p)-1]}, true
}

func streamArgs(chunk, offset, length int, rest ...byte) []byte {
	return append([]byte{byte(chunk), byte(chunk >> 8), byte(offset), byte(offset >> 8), byte(offset >> 16),
		byte(length), byte(length >> 8), byte(length >> 16)}, rest...)
}

// A ResetReason says why the device started last.
type ResetReason byte

func (r ResetReason) String() string {
	names := []string{"unknown", "power", "asked", "pin", "watchdog", "panic", "brown-out", "software"}
	if int(r) < len(names) {
		return names[r]
	}
	return fmt.Sprintf("reason %d", byte(r))
}

// A Capability is something that a device's agent can do.
type Capability uint32

// Capabilities; those for input are 1 << event kind.
const (
	CanRedraw Capability = 1 << (16 + iota)
	CanClock
	CanFeed
	CanList
	CanPattern
	CanReset
	CanObserve
	CanHold
	FlushedIsShown // the framebuffer read is what was flushed, so partial-refresh faults show
	CanDense       // codec 2, which the agents before CanKeyed have
	Strips         // no framebuffer: a look is drawn for the host, and flushed areas are told
	CanKeyed       // codec 3, and rectangles that the host knows in READ
)

// Hello is what a device says of itself.
type Hello struct {
	Protocol   int
	Reset      ResetReason
	Width      int
	Height     int
	Format     capture.Format
	Colours    int // entries of the palette, 0 without one
	Can        Capability
	MaxRequest int // bytes
	Uptime     uint32
	Boot       uint32
	Device     string
	Build      string
	Firmware   string
	Library    string
}

// Has reports whether the device has all of c.
func (h Hello) Has(c Capability) bool { return h.Can&c == c }

// Takes reports whether the device takes that kind of input.
func (h Hello) Takes(k EventKind) bool { return h.Can>>k&1 == 1 }

func parseHello(data []byte) (Hello, error) {
	if len(data) < 19 {
		return Hello{}, errors.New("hello is too short")
	}
	le := binary.LittleEndian
	h := Hello{
		Protocol: int(data[0]), Reset: ResetReason(data[1]), Format: capture.Format(data[2]),
		Width: int(le.Uint16(data[3:])), Height: int(le.Uint16(data[5:])), Colours: int(le.Uint16(data[7:])),
		Can: Capability(le.Uint32(data[9:])), MaxRequest: int(le.Uint16(data[13:])), Uptime: le.Uint32(data[15:]),
	}
	text := strings.Split(string(data[19:]), "\x00")
	if len(text) < 4 {
		return h, errors.New("hello lacks its names")
	}
	h.Device, h.Build, h.Firmware, h.Library = text[0], text[1], text[2], text[3]
	switch {
	case h.Protocol != Version:
		return h, fmt.Errorf("the device speaks protocol version %d, this program %d", h.Protocol, Version)
	case !h.Format.Valid():
		return h, fmt.Errorf("the device's pixel format %d is unknown", h.Format)
	case h.Width < 1 || h.Height < 1 || h.Width > MaxSide || h.Height > MaxSide:
		return h, fmt.Errorf("the device says its panel is %dx%d: not between 1 and %d", h.Width, h.Height, MaxSide)
	case h.MaxRequest < 64:
		return h, fmt.Errorf("the device takes requests of %d bytes: less than 64", h.MaxRequest)
	case h.Colours > 256:
		return h, fmt.Errorf("the device has a palette of %d colours: more than 256", h.Colours)
	}
	return h, nil
}

// MaxSide bounds a panel's width and height: what READ's tile numbers can address.
const MaxSide = 4080
