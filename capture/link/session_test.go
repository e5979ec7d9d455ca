package link

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture"
)

// The requests of every call stand in a file, to the byte, and what the host makes of the answers: a slip in a field's
// place, a bound or a unit shows as another line.
func TestWhatEveryCallSends(t *testing.T) {
	ctx := t.Context()
	m := newMock(40, 18, capture.Grey8)
	m.hello.Can |= 1 << 13
	s, c := play(t, m, Options{})
	s.say("= %+v", c.Hello())
	for k := TouchDown; k <= Roll+3; k++ {
		s.say("takes %d: %v", k, c.Hello().Takes(k))
	}
	do := func(err error) { s.say("= %v", err) }
	for _, e := range []Event{
		{Kind: TouchDown, A: 1, B: 2, C: 3}, {Kind: Roll, A: -1, B: -2}, {Kind: KeyDown, A: 7, B: 0x128},
		{Kind: TouchMove, A: 32767, B: -32768}, {Kind: TouchMove, A: 32768}, {Kind: TouchMove, B: 32768}, {Kind: TouchMove, A: -32769}, {Kind: TouchMove, B: -32769},
		{Kind: Turn, A: 1, After: 300 * time.Millisecond}, {Kind: Turn, After: 65535 * time.Millisecond}, {Kind: Turn, After: 65536 * time.Millisecond}, {Kind: Turn, After: -time.Millisecond},
		{Kind: Text, Text: "Grün"}, {Kind: Text, Text: "a\x00b"}, {Kind: Text, Text: strings.Repeat("x", 59)}, {Kind: Text, Text: strings.Repeat("x", 60)},
	} {
		do(c.Input(ctx, e))
	}
	do(c.Wait(ctx, 0))
	do(c.Wait(ctx, 70*time.Second))
	face := time.Date(2031, 5, 4, 9, 30, 7, 89e6, time.FixedZone("", 7200))
	do(c.SetClock(ctx, face, true))
	do(c.SetClock(ctx, face, false))
	do(c.HoldClock(ctx, true))
	do(c.HoldClock(ctx, false))
	do(c.StepClock(ctx, -1500*time.Millisecond))
	do(c.Feed(ctx, "list", "a\nb"))
	do(c.Feed(ctx, "x", strings.Repeat("y", 60)))
	do(c.Feed(ctx, "x", strings.Repeat("y", 61)))
	do(c.Feed(ctx, "x\x00", ""))
	do(c.Feed(ctx, "x", "\x00"))
	do(c.Pattern(ctx))
	do(c.Pattern(ctx, 1, 2, 3))
	do(c.Observe(ctx, true))
	do(c.Observe(ctx, false))
	for _, list := range []string{"", "fan=1\nvalve\nlamp=#00ff00=x\n", "last"} {
		m.list = list
		items, err := c.List(ctx, Gauges)
		s.say("= %q %v", items, err)
	}
	m.observed = []byte{1, 2, 3, 4, 5, 6, 7, 0xff, 0xff, 9, 10, 11, 2, 0, 0, 1, 0, 0, 4, 7, 0, 40, 0, 0}
	seen, err := c.Observed(ctx, 0x1234)
	s.say("= %v %v", seen, err)
	m.observed = m.observed[:23]
	seen, err = c.Observed(ctx, 0)
	s.say("= %v %v", seen, err)
	for _, opt := range []LookOptions{
		{}, {Still: 0x123 * time.Millisecond, Latest: 0x4567 * time.Millisecond}, {Still: time.Second, Latest: time.Second, Redraw: true}, {Latest: 65535 * time.Millisecond},
		{Latest: 65536 * time.Millisecond}, {Still: 2, Latest: 1}, {Still: -1, Latest: 1},
	} {
		hash, moving, err := c.Hash(ctx, opt)
		s.say("= %#x %v %v", hash, moving, err)
	}
	m.code = codeMoving
	hash, moving, err := c.Glance(ctx, time.Millisecond, 2*time.Millisecond)
	s.say("= %#x %v %v", hash, moving, err)
	moving, err = c.Settle(ctx, time.Millisecond, 2*time.Millisecond)
	s.say("= %v %v", moving, err)
	m.code = codeOK
	do(c.Listen(ctx, 250*time.Millisecond))
	up, down := c.Wire()
	count, drawn := c.Counter()
	s.say("%d up, %d down, counter %d %v, now %v", up, down, count, drawn, c.Now())
	gone, cancel := context.WithCancel(ctx)
	cancel()
	do(c.Hide(gone))
	do(c.Hide(ctx))
	do(c.Pattern(gone, 9))
	m.hello.Can &^= CanList
	do(c.Greet(ctx))
	_, err = c.List(ctx, Feeds)
	do(err)
	do(c.Close())
	s.holds("calls")
}

// What a device refuses, by the code of its reply.
func TestRefusals(t *testing.T) {
	m := newMock(40, 18, capture.Grey8)
	s, c := play(t, m, Options{})
	for code := range byte(10) {
		m.code = code
		s.say("code %d", code)
		s.say("= %v", c.Feed(t.Context(), "a", "b"))
		_, err := c.List(t.Context(), Feeds)
		s.say("= %v", err)
		_, moving, err := c.Hash(t.Context(), LookOptions{})
		s.say("= %v %v", moving, err)
	}
	s.holds("refusals")
	for code, want := range map[byte]error{codeOK: nil, codeMoving: nil, codeUnknown: ErrUnsupported, codeUnknownName: ErrUnknownName, codeBadValue: ErrBadValue, codeUnsupported: ErrUnsupported} {
		if err := refusal(code); err != want {
			t.Errorf("code %d is %v, want %v", code, err, want)
		}
	}
}

// Hellos that no device should send, and the nearest that one may.
func TestHelloAtItsBounds(t *testing.T) {
	good := newMock(40, 18, capture.Grey8).hello
	for _, tt := range []struct {
		change func(h *Hello)
		says   string
	}{
		{func(h *Hello) {}, ""},
		{func(h *Hello) { h.Width, h.Height = 1, 1 }, ""},
		{func(h *Hello) { h.Width, h.Height = 4080, 4080 }, ""},
		{func(h *Hello) { h.Width = 0 }, "the device says its panel is 0x18: not between 1 and 4080"},
		{func(h *Hello) { h.Height = 0 }, "the device says its panel is 40x0: not between 1 and 4080"},
		{func(h *Hello) { h.Width = 4081 }, "the device says its panel is 4081x18: not between 1 and 4080"},
		{func(h *Hello) { h.Height = 4081 }, "the device says its panel is 40x4081: not between 1 and 4080"},
		{func(h *Hello) { h.Protocol = 0 }, "the device speaks protocol version 0, this program 1"},
		{func(h *Hello) { h.Protocol = 2 }, "the device speaks protocol version 2, this program 1"},
		{func(h *Hello) { h.Format = 0 }, "the device's pixel format 0 is unknown"},
		{func(h *Hello) { h.Format = 99 }, "the device's pixel format 99 is unknown"},
		{func(h *Hello) { h.MaxRequest = 63 }, "the device takes requests of 63 bytes: less than 64"},
		{func(h *Hello) { h.MaxRequest = 64 }, ""},
		{func(h *Hello) { h.Colours = 256 }, ""},
		{func(h *Hello) { h.Colours = 257 }, "the device has a palette of 257 colours: more than 256"},
	} {
		h := good
		tt.change(&h)
		got, err := parseHello(helloBytes(h))
		if said := fmt.Sprint(err); said != tt.says && !(err == nil && tt.says == "") {
			t.Errorf("%+v: %q, want %q", h, said, tt.says)
		}
		if h.Boot = 0; err == nil && got != h {
			t.Errorf("hello came as %+v, want %+v", got, h)
		}
	}
	short := helloBytes(good)
	for _, n := range []int{0, 18, 19, 19 + len("mist controller\x00v1\x00fern")} {
		if _, err := parseHello(short[:n]); err == nil || (n < 19) != (err.Error() == "hello is too short") {
			t.Errorf("hello of %d bytes: %v", n, err)
		}
	}
	if h, err := parseHello(append(short, "\x00more"...)); err != nil || h.Library != "draw-1" {
		t.Errorf("hello with a name more: %+v, %v", h, err)
	}
	names := ""
	for r := range ResetReason(9) {
		names += r.String() + " "
	}
	if names != "unknown power asked pin watchdog panic brown-out software reason 8 " {
		t.Errorf("reasons are %s", names)
	}
	// PROTOCOL.md, section "Capabilities".
	for c, bit := range map[Capability]int{CanRedraw: 16, CanClock: 17, CanFeed: 18, CanList: 19, CanPattern: 20, CanReset: 21, CanObserve: 22, CanHold: 23, FlushedIsShown: 24, CanDense: 25, Strips: 26, CanKeyed: 27} {
		if c != 1<<bit {
			t.Errorf("capability %#x is not bit %d", uint32(c), bit)
		}
	}
}

// A device is taken back to a state that it had: the conversation goes on from there.
func TestMarkGoesBack(t *testing.T) {
	m := newMock(40, 18, capture.Grey8)
	s, c := play(t, m, Options{})
	s.say("= %v", c.Wait(t.Context(), 0))
	back := c.Mark()
	m.hello.Boot++
	m.generation++
	s.say("= %v", c.Greet(t.Context()))
	s.say("= %v", c.Wait(t.Context(), 0))
	c.got = []reply{{}}
	c.split.feed([]byte{0, 5, 6})
	m.hello.Boot--
	m.generation--
	back()
	if len(c.got) != 0 || c.split.inside || len(c.split.pending) != 0 {
		t.Error("what had come before is kept")
	}
	s.say("= %v", c.Wait(t.Context(), 0))
	s.say("= %+v", c.Hello())
	s.holds("mark")
}

// Tags count up, and that of the last action is not given to another.
func TestTagsOfActions(t *testing.T) {
	c := &Conn{tag: 9}
	got := []byte{c.nextTag(kindInput), c.nextTag(kindLook), c.nextTag(kindPattern)}
	for range 254 {
		c.nextTag(kindBands)
	}
	got = append(got, c.tag)
	got = append(got, c.nextTag(kindHello))
	c.tag = 12
	c.acted = 13
	got = append(got, c.nextTag(kindFlushed))
	c.tag = 12
	got = append(got, c.nextTag(kindInput))
	got = append(got, c.acted)
	if want := []byte{10, 11, 12, 10, 11, 13, 14, 14}; !slices.Equal(got, want) {
		t.Errorf("tags %v, want %v", got, want)
	}
}
