package link

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
)

// A line of text and frames, cut anywhere, comes apart as it was put together.
func TestSplitterByHand(t *testing.T) {
	body := []byte("0123456789")
	frame := EncodeFrame(body)
	long := strings.Repeat("x", 2*MaxBody)
	cut := func(log string, at int) string { return string(frame[:at]) + log + string(frame[at:]) }
	for _, tt := range []struct {
		name, wire, want string
	}{
		{"text", "hello\nyou\r\n", `line "hello" line "you" `},
		{"text without an end", "hello", ``},
		{"empty lines", "\n\r\n\n", ``},
		{"a frame", string(frame), `frame `},
		{"a frame between lines", "a\n" + string(frame) + "b\n", `line "a" frame line "b" `},
		{"text up to a frame", "ab" + string(frame), `line "ab" frame `},
		{"two frames", string(frame) + string(frame), `frame frame `},
		{"two frames share a zero", string(frame) + string(frame[1:]), `frame frame `},
		{"zeros", "\x00\x00\x00" + string(frame), `frame `},
		{"half a frame and one", string(frame[:6]) + string(frame), `noise 5 frame `},
		{"rubbish", "\x00\xff\xfe\x80\x00" + string(frame), `noise 3 frame `},
		{"tabs and colours are text", "\ta\x1b[31mb\n", `line "\ta\x1b[31mb" `},
		{"a bell is none", "a\ab\n", `noise 3 `},
		{"half a letter is none", "a\xc3\n", `noise 2 `},
		{"a log in a frame", cut("log: warm\n", 4), `line "log: warm" frame `},
		{"a log right behind the zero", cut("warm\n", 1), `line "warm" frame `},
		{"a log right before the zero", cut("warm\n", len(frame)-1), `line "warm" frame `},
		{"an empty log right behind the zero", cut("\n", 1), `frame `},
		{"two logs in a frame", cut("one\ntwo\r\n", 5), `line "one" line "two" frame `},
		{"a log of 256 bytes", cut(strings.Repeat("w", 255)+"\n", 5), `line 255 frame `},
		{"a log of 257 bytes", cut(strings.Repeat("w", 256)+"\n", 5), `noise 260 noise 11 `},
		{"a log in umlauts", cut("wärmer\n", 3), `line "wärmer" frame `},
		{"a log with a tab and colours", cut("\t\x1b[1mx\n", 3), `line "\t\x1b[1mx" frame `},
		{"a log with a bell", cut("a\ab\n", 3), `noise 5 noise 13 `},
		{"a line without end", long, ``},
		{"a line without end, and one more", long + "x", `line 16385 `},
		{"a frame after a line without end", "\x00" + long + "xy\n" + string(frame), `line 16386 frame `},
	} {
		var got strings.Builder
		s := splitter{
			frame: func(b []byte) {
				if !bytes.Equal(b, body) {
					t.Errorf("%s: frame %q", tt.name, b)
				}
				got.WriteString("frame ")
			},
			line: func(text string) {
				if len(text) > 100 {
					fmt.Fprintf(&got, "line %d ", len(text))
				} else {
					fmt.Fprintf(&got, "line %q ", text)
				}
			},
			noise: func(n int) { fmt.Fprintf(&got, "noise %d ", n) },
		}
		s.feed([]byte(tt.wire))
		if got.String() != tt.want {
			t.Errorf("%s: %s, want %s", tt.name, &got, tt.want)
		}
		if strings.Contains(tt.name, "without end") {
			continue // how much is taken for a line then goes by how it is cut
		}
		whole := got.String()
		got.Reset()
		for i := range len(tt.wire) {
			s.feed([]byte(tt.wire[i : i+1]))
		}
		if tt.wire[len(tt.wire)-1] != 0 && tt.wire[len(tt.wire)-1] != '\n' {
			continue
		}
		if got.String() != whole {
			t.Errorf("%s, byte by byte: %s, want %s", tt.name, &got, whole)
		}
	}
	s := splitter{}
	for _, tt := range []struct {
		inside bool
		n      int
		want   bool
	}{{true, 0, false}, {true, 1, true}, {false, 1, false}, {true, MaxBody, true}, {true, MaxBody + 1, false}} {
		s.inside, s.pending = tt.inside, make([]byte, tt.n)
		if s.midFrame() != tt.want {
			t.Errorf("inside %v with %d bytes: in the middle of a frame %v", tt.inside, tt.n, !tt.want)
		}
	}
	for _, tt := range []struct {
		a, b string
		want bool
	}{{"\x01", "", true}, {"\x02", "x", true}, {"\x02x", "\x01", true}, {"\x02", "", false}, {"\x01", "\x00", false}, {"\x03x", "y\x01", true}, {"", "\x01", true}, {"", "", true}, {"\x01", "\x03x", false}} {
		if fits([]byte(tt.a), []byte(tt.b)) != tt.want {
			t.Errorf("%q and %q fit: %v", tt.a, tt.b, !tt.want)
		}
	}
}
