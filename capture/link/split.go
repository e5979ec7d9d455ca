package link

import (
	"bytes"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// A splitter takes the bytes of the line apart: frames, the firmware's log lines, and what is
// neither. Frames stand between zero bytes; text stands outside them and ends with a newline.
type splitter struct {
	pending []byte // since the last zero byte
	inside  bool   // the last zero byte opened a frame, so far as is known

	rescued int64 // frames that a log line had cut into

	frame func(body []byte)
	line  func(text string)
	noise func(bytes int) // bytes that are neither
}

// feed takes bytes as they come; how they are cut up makes no difference. Outside a frame a line
// is handed on as soon as it is whole: log must not wait for the next frame.
func (s *splitter) feed(p []byte) {
	for len(p) > 0 {
		i := bytes.IndexByte(p, 0)
		if n := bytes.IndexByte(p, '\n'); n >= 0 && !s.inside && (i < 0 || n < i) {
			i = n
		}
		if i < 0 {
			s.pending = append(s.pending, p...)
			break
		}
		s.pending = append(s.pending, p[:i+1]...)
		if p[i] == 0 {
			s.pending = s.pending[:len(s.pending)-1]
			s.delimiter()
		} else {
			s.text(s.pending)
		}
		s.pending = s.pending[:0]
		p = p[i+1:]
	}
	// No frame is this long, so it is a line without end or a babbling device.
	if len(s.pending) > 2*MaxBody {
		s.text(s.pending)
		s.pending = s.pending[:0]
		s.inside = false
	}
}

// midFrame reports whether a frame may well have begun and not ended.
func (s *splitter) midFrame() bool {
	return s.inside && len(s.pending) > 0 && len(s.pending) <= MaxBody
}

func (s *splitter) delimiter() {
	if len(s.pending) == 0 {
		s.inside = true
		return
	}
	body, err := DecodeFrame(s.pending)
	if err != nil {
		var log []byte
		if body, log = rescue(s.pending); body != nil {
			s.text(log)
			s.rescued++
		}
	}
	if body == nil {
		s.inside = true
		s.text(s.pending)
		return
	}
	s.inside = false
	s.frame(body)
}

// Bounds of a rescue, so that a flood of rubbish costs little time.
const (
	rescueFrame = 4200 // bytes between two zeros
	rescueLine  = 256  // bytes of the log in them
	rescueTries = 2048 // places where the log may begin or end
)

// rescue undoes what a log line does that was printed into the middle of a frame: it looks for
// text that ends in a newline and without which the frame is whole. Each try passes by chance
// with 2^-32, and there are as many as the text is long.
func rescue(between []byte) (body, log []byte) {
	if len(between) > rescueFrame {
		return nil, nil
	}
	tries := 0
	for end := len(between) - 1; end >= 0; end-- {
		if between[end] != '\n' {
			continue
		}
		for start := end; start >= 0 && end-start < rescueLine; start-- {
			if b := between[start]; b < ' ' && b != '\n' && b != '\r' && b != '\t' && b != '\x1b' {
				break
			}
			if start > 0 && between[start] >= 0x80 && between[start] < 0xc0 {
				continue // the middle of a letter
			}
			if tries++; tries > rescueTries {
				return nil, nil
			}
			if !fits(between[:start], between[end+1:]) {
				continue
			}
			if body, err := DecodeFrame(slices.Concat(between[:start], between[end+1:])); err == nil {
				return body, between[start : end+1]
			}
		}
	}
	return nil, nil
}

// text hands on the printable lines of b and counts the rest as noise.
func (s *splitter) text(b []byte) {
	for _, line := range bytes.Split(b, []byte("\n")) {
		line = bytes.TrimRight(line, "\r")
		if len(line) == 0 {
			continue
		}
		if !printable(line) {
			s.noise(len(line))
			continue
		}
		s.line(string(line))
	}
}

// fits reports whether the blocks of COBS in a and then b end where b does: a cheap test before the
// CRC's.
func fits(a, b []byte) bool {
	i, n := 0, len(a)+len(b)
	for i < n {
		code := byte(0)
		if i < len(a) {
			code = a[i]
		} else {
			code = b[i-len(a)]
		}
		if code == 0 {
			return false
		}
		i += int(code)
	}
	return i == n
}

func printable(b []byte) bool {
	if !utf8.Valid(b) {
		return false
	}
	return strings.IndexFunc(string(b), func(r rune) bool {
		return r != '\t' && r != '\x1b' && !unicode.IsPrint(r)
	}) < 0
}
