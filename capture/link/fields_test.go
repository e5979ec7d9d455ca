package link

import (
	"bytes"
	"fmt"
	"slices"
	"testing"
	"time"
)

// RFC 6298, section 2: SRTT <- R, RTTVAR <- R/2; then RTTVAR <- 3/4 RTTVAR + 1/4 |SRTT - R|, SRTT <- 7/8 SRTT + 1/8 R, and
// RTO <- SRTT + 4 RTTVAR, doubled each time that it runs out. The bounds are ours.
func TestPaceByHand(t *testing.T) {
	p := pace{longest: 8 * time.Second, chunk: 512, most: 512}
	ms := time.Millisecond
	want := func(what string, wait time.Duration) {
		t.Helper()
		if got := p.wait(); got != wait {
			t.Errorf("%s: wait %v, want %v", what, got, wait)
		}
	}
	want("nothing measured", 8*time.Second)
	p.took(80 * ms)
	want("80 + 4*40", 240*ms)
	p.took(160 * ms) // vary 40 + (80-40)/4 = 50, smooth 80 + 80/8 = 90
	want("90 + 4*50", 290*ms)
	p.took(50 * ms) // vary 50 + (40-50)/4 = 47.5, smooth 90 - 5 = 85
	want("85 + 4*47.5", 275*ms)
	for i, w := range []time.Duration{550 * ms, 1100 * ms, 2200 * ms, 4400 * ms, 8 * time.Second} {
		p.late()
		want(fmt.Sprint("late ", i+1), w)
	}
	p.took(85 * ms)
	if p.backoff != 0 || p.wait() > 275*ms {
		t.Errorf("after an answer: backoff %d, wait %v", p.backoff, p.wait())
	}
	q := pace{longest: time.Hour}
	q.took(0)
	if q.smooth != time.Microsecond || q.vary != 500*time.Nanosecond || q.wait() != 100*ms {
		t.Errorf("an answer at once: %v, %v, wait %v", q.smooth, q.vary, q.wait())
	}
	for range 9 {
		q.late()
	}
	if q.wait() != 6400*ms {
		t.Errorf("late nine times: wait %v, want 64 times 100 ms", q.wait())
	}
}

func TestPiecesGetShorterAndLonger(t *testing.T) {
	p := pace{chunk: 512, most: 512}
	var got []int
	for range 5 {
		p.lost()
		got = append(got, p.chunk)
	}
	for i := range 32 * 7 {
		p.kept()
		if i%32 >= 30 {
			got = append(got, p.chunk)
		}
	}
	if want := []int{256, 128, 64, 64, 64, 64, 96, 96, 144, 144, 216, 216, 324, 324, 486, 486, 512, 512, 512}; !slices.Equal(got, want) || p.losses != 5 {
		t.Errorf("%v, %d losses; want %v", got, p.losses, want)
	}
	p.good = 31
	p.lost()
	if p.kept(); p.chunk != 256 {
		t.Errorf("trouble does not start the count anew: %d", p.chunk)
	}
	if p = (pace{chunk: 50, most: 50}); p.chunk != 50 {
		t.Error(p)
	}
	if p.lost(); p.chunk != 50 {
		t.Errorf("pieces of 50 bytes at most become %d long", p.chunk)
	}
}

func TestFirstPart(t *testing.T) {
	for _, tt := range []struct {
		raw   int
		codec Codec
		want  int
	}{
		{100, CodecKeyed, 256}, {4096, CodecKeyed, 256}, {4112, CodecKeyed, 257}, {131072, CodecDense, 8192}, {1 << 20, CodecKeyed, 8192},
		{100, CodecRuns, 256}, {8224, CodecRuns, 257}, {131072, CodecRuns, 4096}, {1 << 20, CodecRuns, 8192}, {131072, CodecRaw, 8192},
	} {
		if got := firstPart(tt.raw, tt.codec); got != tt.want {
			t.Errorf("first part of %d bytes with codec %d is %d, want %d", tt.raw, tt.codec, got, tt.want)
		}
	}
}

func TestStitchByHand(t *testing.T) {
	s := newStitch()
	for i, tt := range []struct {
		offset          int
		data            string
		tail            byte
		grew, gap, ends int
		whole           bool
	}{
		{0, "ab", tailMore, 2, 0, -1, false},
		{0, "ab", tailMore, 0, 0, -1, false},
		{5, "fg", tailMore, 0, 3, -1, false},
		{9, "j", tailEnd, 0, 3, 10, false},
		{1, "zz", tailMore, 0, 3, 10, false},
		{4, "", tailMore, 0, 3, 10, false},
		{4, "e", tailMore, 0, 2, 10, false},
		{2, "cd", tailMore, 5, 2, 10, false},
		{7, "hi", tailMore, 3, 0, 10, true},
	} {
		grew := s.add(piece{tt.offset, []byte(tt.data), tt.tail})
		if grew != tt.grew || s.gap() != tt.gap || s.ends != tt.ends || s.whole() != tt.whole {
			t.Errorf("step %d: grew %d, gap %d, ends %d, whole %v; want %+v", i, grew, s.gap(), s.ends, s.whole(), tt)
		}
	}
	if string(s.data) != "abcdefghij" {
		t.Errorf("together it is %q", s.data)
	}
	empty := newStitch()
	if empty.whole() || empty.add(piece{0, nil, tailEnd}) != 0 || !empty.whole() {
		t.Error("a stream of nothing")
	}
	part := newStitch()
	part.base = 100
	if part.add(piece{100, []byte("x"), tailMore}) != 1 || part.add(piece{101, []byte("y"), tailEnd}) != 1 || !part.whole() || string(part.data) != "xy" {
		t.Errorf("from byte 100 on: %q, ends %d", part.data, part.ends)
	}
}

func TestFieldsOfRepliesAndPieces(t *testing.T) {
	body := []byte{0x93, 0x21, 0xa7, 1, 2, 3, 4, 5, 6, 7, 8}
	r, ok := parseReply(body)
	if !ok || r.kind != 0x13 || r.tag != 0x21 || r.code != 7 || r.generation != 5 || r.boot != 0x04030201 || r.counter != 0x0605 || !bytes.Equal(r.payload, []byte{7, 8}) {
		t.Errorf("%+v, %v", r, ok)
	}
	if r, ok := parseReply(body[:9]); !ok || len(r.payload) != 0 {
		t.Errorf("a bare head: %+v, %v", r, ok)
	}
	if _, ok := parseReply(body[:8]); ok {
		t.Error("eight bytes are taken for a reply")
	}
	if body[0] = 0x13; true {
		if _, ok := parseReply(body); ok {
			t.Error("a request is taken for a reply")
		}
	}
	if p, ok := parsePiece([]byte{1, 2, 3, 4, 5, 6}); !ok || p.offset != 0x030201 || !bytes.Equal(p.data, []byte{4, 5}) || p.tail != 6 {
		t.Errorf("%+v, %v", p, ok)
	}
	if p, ok := parsePiece([]byte{1, 2, 3, 4}); !ok || len(p.data) != 0 || p.tail != 4 {
		t.Errorf("%+v, %v", p, ok)
	}
	if _, ok := parsePiece([]byte{1, 2, 3}); ok {
		t.Error("three bytes are taken for a piece")
	}
	if got := streamArgs(0x1234, 0x56789a, 0xbcdef0, 1, 2); !bytes.Equal(got, []byte{0x34, 0x12, 0x9a, 0x78, 0x56, 0xf0, 0xde, 0xbc, 1, 2}) {
		t.Errorf("% x", got)
	}
	for kind := range 256 {
		if want := kind != kindHello && kind != kindList && kind != kindObserved; ofOneMoment(byte(kind)) != want {
			t.Errorf("kind %#x is of one moment: %v", kind, !want)
		}
	}
}

// Frames at the bounds of their length.
func TestFrameAtItsBounds(t *testing.T) {
	if _, err := DecodeFrame(EncodeFrame([]byte{1})[1:6]); err == nil {
		t.Error("a body of one byte is a frame")
	}
	one := EncodeFrame([]byte{1})
	if _, err := DecodeFrame(one[1 : len(one)-1]); err == nil {
		t.Error("a body of one byte is a frame")
	}
	for _, n := range []int{2, MaxBody} {
		f := EncodeFrame(bytes.Repeat([]byte{9}, n))
		if b, err := DecodeFrame(f[1 : len(f)-1]); err != nil || len(b) != n {
			t.Errorf("a body of %d bytes: %d bytes, %v", n, len(b), err)
		}
	}
	f := EncodeFrame(bytes.Repeat([]byte{9}, MaxBody+300))
	if _, err := DecodeFrame(f[1 : len(f)-1]); err == nil {
		t.Error("a frame of any length is taken")
	}
}
