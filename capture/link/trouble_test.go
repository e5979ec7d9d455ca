package link

import (
	"errors"
	"fmt"
	"image/color"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture"
)

// Frames get lost, one after another and several in a row: when what is asked again, and after how long the device
// counts as silent.
func TestWhatIsAskedAgain(t *testing.T) {
	ctx := t.Context()
	m := newMock(96, 40, capture.Grey8)
	s, c := play(t, m, Options{})
	lose := map[int]bool{}
	m.bend = func(n int, kind byte, replies [][]byte) [][]byte {
		if lose[n] {
			return nil
		}
		return replies
	}
	trouble := func(what string, err error) {
		resent, noise := c.Trouble()
		s.say("= %s: %v; %d asked again, noise %d; wait %v, chunk %d", what, err, resent, noise, c.pace.wait(), c.pace.chunk)
	}
	for lost := range 5 { // of the replies to an action
		for i := range lost {
			lose[m.requests+i] = true
		}
		trouble(fmt.Sprint(lost, " lost"), c.Feed(ctx, "a", "b"))
	}
	for range 3 {
		trouble("well again", c.Wait(ctx, 0))
	}
	lose[m.requests] = true
	trouble("a wait", c.Wait(ctx, 2*time.Second))
	for lost := range 5 {
		for i := range lost {
			lose[m.requests+i] = true
		}
		_, err := c.List(ctx, Lamps)
		trouble(fmt.Sprint("list, ", lost, " lost"), err)
	}
	for _, lost := range []int{1, 3, 12} {
		for i := range lost {
			lose[m.requests+i] = true
		}
		_, _, err := c.Hash(ctx, LookOptions{Still: 100 * time.Millisecond, Latest: 3 * time.Second})
		trouble(fmt.Sprint("look, ", lost, " lost"), err)
	}
	s.holds("lost")
}

// The pieces of a stream go missing, come twice, in another order, of another moment or void.
func TestPiecesThatGoMissing(t *testing.T) {
	head := func(r []byte, f func(b []byte)) []byte { f(r); return r }
	for _, tt := range []struct {
		name string
		bend func(first bool, rs [][]byte) [][]byte
	}{
		{"whole", func(first bool, rs [][]byte) [][]byte { return rs }},
		{"first", func(first bool, rs [][]byte) [][]byte { return rs[1:] }},
		{"second", func(first bool, rs [][]byte) [][]byte { return slices.Delete(rs, 1, 2) }},
		{"two gaps", func(first bool, rs [][]byte) [][]byte { return slices.Delete(slices.Delete(rs, 5, 6), 1, 3) }},
		{"last", func(first bool, rs [][]byte) [][]byte { return rs[:len(rs)-1] }},
		{"backwards", func(first bool, rs [][]byte) [][]byte { slices.Reverse(rs); return rs }},
		{"twice", func(first bool, rs [][]byte) [][]byte { return slices.Concat(rs[:3], rs[:3], rs[3:]) }},
		{"babble", func(first bool, rs [][]byte) [][]byte {
			return slices.Concat(rs[:1], slices.Repeat(rs[:1], 70), rs[1:])
		}},
		{"nearly babble", func(first bool, rs [][]byte) [][]byte {
			return slices.Concat(rs[:1], slices.Repeat(rs[:1], 62), rs[1:])
		}},
		{"short reply", func(first bool, rs [][]byte) [][]byte { rs[1] = rs[1][:12]; return rs }},
		{"void", func(first bool, rs [][]byte) [][]byte {
			rs[2] = head(rs[2], func(b []byte) { b[len(b)-1] = tailVoid })
			return rs
		}},
		{"drawn", func(first bool, rs [][]byte) [][]byte { rs[2] = head(rs[2], func(b []byte) { b[7]++ }); return rs }},
		{"turned", func(first bool, rs [][]byte) [][]byte {
			rs[2] = head(rs[2], func(b []byte) { b[2] |= 1 << 5 })
			return rs
		}},
		{"restarted", func(first bool, rs [][]byte) [][]byte {
			rs[2] = head(rs[2], func(b []byte) { b[3]++ })
			return rs
		}},
		{"other kind", func(first bool, rs [][]byte) [][]byte { rs[1] = head(rs[1], func(b []byte) { b[0]++ }); return rs }},
		{"other tag", func(first bool, rs [][]byte) [][]byte { rs[1] = head(rs[1], func(b []byte) { b[1]++ }); return rs }},
		{"no reply", func(first bool, rs [][]byte) [][]byte {
			rs[1] = head(rs[1], func(b []byte) { b[0] &= 0x7f })
			return rs
		}},
		{"nothing", func(first bool, rs [][]byte) [][]byte { return nil }},
	} {
		t.Run(tt.name, func(t *testing.T) {
			m := newMock(40, 18, capture.Grey8)
			s, c := play(t, m, Options{Chunk: 16, Patience: 150 * time.Millisecond})
			for _, kind := range []byte{kindPalette, kindList} {
				bent := false
				m.frame.Palette = make([]color.RGBA, 40)
				m.list = strings.Repeat("gauge=1\n", 15)
				m.bend = func(n int, k byte, rs [][]byte) [][]byte {
					if k != kind || bent || len(rs) < 7 {
						return rs
					}
					bent = true
					return tt.bend(true, rs)
				}
				data, r, err := c.fetch(t.Context(), kind, []byte{byte(Gauges)})
				s.say("= %d bytes, counter %d, %v; chunk %d", len(data), r.counter, err, c.pace.chunk)
				s.down, s.later = nil, nil
				c.got = nil
			}
			s.holds("pieces-" + strings.ReplaceAll(tt.name, " ", "-"))
		})
	}
}

// A restart seen in a reply, a reset that is asked for, one that comes late and one that never comes.
func TestRestartsAndResets(t *testing.T) {
	ctx := t.Context()
	m := newMock(40, 18, capture.Grey8)
	s, c := play(t, m, Options{Patience: 100 * time.Millisecond})
	m.hello.Boot++
	err := c.Wait(ctx, 0)
	var r *RestartError
	if !errors.As(err, &r) || r.Before != 0x11223344 || r.After != 0x11223345 {
		t.Errorf("a reply of another start: %#v", err)
	}
	s.say("= %v", err)
	s.say("= %v", c.Greet(ctx))
	boot := func(after time.Duration) {
		from := s.now
		m.bend = func(n int, kind byte, rs [][]byte) [][]byte {
			if kind == kindReset {
				m.hello.Boot++
				m.hello.Reset = 2
			} else if s.now < from+after {
				return nil
			}
			return rs
		}
	}
	boot(0)
	s.say("= reset at once: %v", c.Reset(ctx, time.Second))
	boot(900 * time.Millisecond)
	s.say("= reset in a while: %v", c.Reset(ctx, time.Second))
	m.bend = nil
	s.say("= reset that does not come: %v", c.Reset(ctx, 300*time.Millisecond))
	m.bend = func(n int, kind byte, rs [][]byte) [][]byte { return nil }
	s.say("= no answer: %v", c.Reset(ctx, 300*time.Millisecond))
	m.bend = func(n int, kind byte, rs [][]byte) [][]byte {
		if kind == kindReset {
			m.hello.Boot++
		}
		if kind == kindReset {
			return nil
		}
		return rs
	}
	s.say("= restarted without an answer: %v", c.Reset(ctx, 300*time.Millisecond))
	m.bend, m.code = nil, codeUnsupported
	s.say("= restarted, and now it refuses: %v", c.Reset(ctx, 300*time.Millisecond))
	m.code = codeOK
	s.say("= %v", c.Greet(ctx))
	m.code = codeUnsupported
	s.say("= refused: %v", c.Reset(ctx, 300*time.Millisecond))
	m.code = codeOK
	m.bend = func(n int, kind byte, rs [][]byte) [][]byte {
		m.hello.MaxRequest = 3
		return rs
	}
	s.say("= other device: %v", c.Reset(ctx, 300*time.Millisecond))
	s.holds("restarts")
}

// Before the first piece the device may work as long as it is given for that, and after it no longer.
func TestTheDeviceIsGivenTimeToLearn(t *testing.T) {
	m := newMock(40, 18, capture.Grey8)
	m.frame.Palette = make([]color.RGBA, 40)
	s, c := play(t, m, Options{Chunk: 64})
	m.trip = 900 * time.Millisecond
	pieces := newStitch()
	r, err := c.fetchUpTo(t.Context(), kindPalette, nil, time.Second, pieces, 50)
	s.say("= %v, counter %d, %d bytes", err, r.counter, len(pieces.data))
	s.later = nil
	r, err = c.fetchUpTo(t.Context(), kindPalette, nil, 100*time.Millisecond, newStitch(), 0)
	s.say("= %v, counter %d", err, r.counter)
	s.holds("learning")
}

// Answers that contradict what the device said of itself.
func TestAnswersThatDoNotFit(t *testing.T) {
	m := newMock(200, 130, capture.Palette8)
	m.hello.Colours = 3
	m.frame.Palette = make([]color.RGBA, 3)
	s, c := play(t, m, Options{})
	see := func(what string) {
		_, err := c.Look(t.Context(), LookOptions{})
		s.say("= %s: %v", what, err)
	}
	m.frame.Palette = make([]color.RGBA, 2)
	see("a palette too short")
	m.frame.Palette = make([]color.RGBA, 3)
	see("a palette that fits")
	short := func(which byte, cut int) {
		m.counter++
		m.frame.Pix[0]++
		m.bend = func(n int, kind byte, rs [][]byte) [][]byte {
			if kind == which {
				r := rs[len(rs)-1]
				rs[len(rs)-1] = append(r[:len(r)-1-cut], tailEnd)
			}
			return rs
		}
	}
	short(kindBands, 4)
	see("a band too few")
	short(kindBands, 1)
	see("a byte of a band too few")
	short(kindTiles, 4)
	see("a tile too few")
	short(kindRead, 1)
	see("pixels too few")
	m.bend = func(n int, kind byte, rs [][]byte) [][]byte { return nil }
	c.deadline = 0
	_, err := c.Look(t.Context(), LookOptions{})
	see("silence")
	if !errors.Is(err, ErrSilent) {
		t.Errorf("silence is %v", err)
	}
	s.holds("unfit")
}

// The time a picture is given, and what is told when that is over.
func TestTheBoundOfALook(t *testing.T) {
	m := newMock(200, 130, capture.Grey8)
	m.trip = 200 * time.Millisecond
	s, c := play(t, m, Options{Bound: time.Second, Chunk: 64})
	s.later = []delivery{{0, []byte{1, 2, 3, 0xff, 0xfe, 0xfd, 0}}} // noise
	_, err := c.Look(t.Context(), LookOptions{Latest: 500 * time.Millisecond})
	s.say("= %v", err)
	var late *BoundError
	if !errors.As(err, &late) || late.Bound != time.Second {
		t.Errorf("a look without end is %v", err)
	}
	m.trip, s.later, s.down = time.Millisecond, nil, nil
	s.say("= %v", c.Wait(t.Context(), 0)) // no look is under way: there is no bound
	s.holds("bound")
}

// A line is calm while nothing was lost, and again when more than 128 KiB have come since.
func TestCalm(t *testing.T) {
	c := &Conn{}
	if !c.calm() {
		t.Error("a line without trouble is not calm")
	}
	c.down, c.pace.losses = 1000, 1
	for _, tt := range []struct {
		down, rescued int64
		want          bool
	}{{1000, 0, false}, {1000 + 128<<10, 0, false}, {1001 + 128<<10, 0, true}, {2000 + 128<<10, 1, false}, {2000 + 256<<10, 1, false}, {2001 + 256<<10, 1, true}} {
		c.down, c.split.rescued = tt.down, tt.rescued
		if c.calm() != tt.want {
			t.Errorf("%d bytes down, %d frames rescued: calm %v", tt.down, tt.rescued, !tt.want)
		}
	}
}
