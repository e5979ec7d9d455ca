package link

import (
	"bytes"
	"strings"
	"unicode"
	"unicode/utf8"
)

// A splitter takes the bytes of the line apart: frames, the firmware's log lines, and what is
// neither. Frames stand between zero bytes; text stands outside them and ends with a newline.
type splitter struct {
	pending []byte // since the last zero byte
	inside  bool   // the last zero byte opened a frame, so far as is known

	frame func(body []byte)
	line  func(text string)
	noise func(bytes int) // bytes that are neither
}

func (s *splitter) feed(p []byte) {
	for len(p) > 0 {
		i := bytes.IndexByte(p, 0)
		if i < 0 {
			s.pending = append(s.pending, p...)
			break
		}
		s.pending = append(s.pending, p[:i]...)
		s.delimiter()
		p = p[i+1:]
	}
	// Outside a frame a line is handed on as soon as it is whole: log must not wait for the next frame.
	if !s.inside {
		if i := bytes.LastIndexByte(s.pending, '\n'); i >= 0 {
			s.text(s.pending[:i+1])
			s.pending = append(s.pending[:0], s.pending[i+1:]...)
		}
	}
	// No frame is this long, so it is a line without end or a babbling device.
	if len(s.pending) > 2*MaxBody {
		s.text(s.pending)
		s.pending = s.pending[:0]
	}
}

func (s *splitter) delimiter() {
	defer func() { s.pending = s.pending[:0] }()
	if len(s.pending) == 0 {
		s.inside = true
		return
	}
	if body, err := DecodeFrame(s.pending); err == nil {
		s.inside = false
		s.frame(body)
		return
	}
	s.inside = true
	s.text(s.pending)
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

func printable(b []byte) bool {
	if !utf8.Valid(b) {
		return false
	}
	return strings.IndexFunc(string(b), func(r rune) bool {
		return r != '\t' && r != '\x1b' && !unicode.IsPrint(r)
	}) < 0
}
