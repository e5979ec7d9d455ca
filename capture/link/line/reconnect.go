package line

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/fascia-bench/fascia/capture/link"
)

// ErrGone means that a line was lost and did not return within the patience.
var ErrGone = errors.New("the line is gone")

// retryEvery is how often a lost line is tried. A USB port needs a second or so to come back.
const retryEvery = 200 * time.Millisecond

// openFor bounds one try, during which nobody is listened to who wants it all to end. Across a network a line opens within a
// few round trips.
const openFor = 600 * time.Millisecond

// A Stream is a line that is opened again when it was lost. It is a link.Stream, in real time, and
// not safe for concurrent use.
type Stream struct {
	spec  Spec
	opt   Options
	start time.Time

	rw    io.ReadWriteCloser // nil while the line is lost
	inner link.Stream
	since time.Time // when it was lost
	tried time.Time
	why   error
	done  bool
}

func newStream(spec Spec, opt Options, rw io.ReadWriteCloser) *Stream {
	return &Stream{spec: spec, opt: opt, start: time.Now(), rw: rw, inner: link.NewStream(rw)}
}

// Now is real time.
func (s *Stream) Now() time.Duration { return time.Since(s.start) }

// Receive waits for bytes. While the line is lost none come; that is an error only once the
// patience is over.
func (s *Stream) Receive(p []byte, wait time.Duration) (int, error) {
	for until := time.Now().Add(wait); ; {
		if s.done {
			return 0, errors.New("the line is closed")
		}
		if s.rw != nil {
			n, err := s.inner.Receive(p, time.Until(until))
			if n > 0 || err == nil {
				return n, nil
			}
			s.lose(err)
			continue
		}
		if err := s.reopen(); err != nil {
			return 0, err
		}
		if s.rw != nil {
			continue
		}
		left := time.Until(until)
		if left <= 0 {
			return 0, nil
		}
		time.Sleep(min(left, retryEvery))
	}
}

// Send writes p. What is sent while the line is lost is lost too: the protocol asks again.
func (s *Stream) Send(p []byte) error {
	if s.done {
		return errors.New("the line is closed")
	}
	if s.rw == nil {
		return s.reopen()
	}
	if err := s.inner.Send(p); err != nil {
		s.lose(err)
	}
	return nil
}

func (s *Stream) lose(err error) {
	s.inner.Close()
	s.rw, s.inner = nil, nil
	s.since, s.tried, s.why = time.Now(), time.Time{}, err
	s.opt.Notice(fmt.Sprintf("%s is lost (%v); waiting %v for its return", s.spec.Name, err, s.opt.Patience))
}

// reopen tries once, if it is time to; an error means that the patience is over.
func (s *Stream) reopen() error {
	if time.Since(s.tried) < retryEvery {
		return nil
	}
	s.tried = time.Now()
	ctx, cancel := context.WithTimeout(context.Background(), openFor)
	defer cancel()
	rw, err := s.spec.open(ctx, s.opt)
	if err == nil {
		s.rw, s.inner = rw, link.NewStream(rw)
		s.opt.Notice(fmt.Sprintf("%s is back after %.1f s", s.spec.Name, time.Since(s.since).Seconds()))
		return nil
	}
	if time.Since(s.since) > s.opt.Patience {
		return fmt.Errorf("%w: %s was lost %.0f s ago (%v) and cannot be opened again: %w", ErrGone, s.spec.Name,
			time.Since(s.since).Seconds(), s.why, err)
	}
	return nil
}

// Reset pulses the line that Options.Lines.Reset names, for 100 ms.
func (s *Stream) Reset() error {
	p, ok := s.rw.(interface{ pulse(string) error })
	if !ok || s.opt.Lines.Reset == "" {
		return fmt.Errorf("%s has no line that resets the board: write lines: {reset: rts} or dtr, on a serial link", s.spec.Name)
	}
	return p.pulse(s.opt.Lines.Reset)
}

// Close closes the line for good.
func (s *Stream) Close() error {
	s.done = true
	if s.inner == nil {
		return nil
	}
	err := s.inner.Close()
	s.rw, s.inner = nil, nil
	return err
}
