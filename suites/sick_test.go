package suites

import (
	"context"
	"time"

	"github.com/fascia-bench/fascia/capture/capturetest"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/twin"
)

// sick is a twin whose line can fall silent, or burst into garbage.
type sick struct {
	*twin.Twin
	silent  bool
	garbage []byte
}

func (s *sick) Send(p []byte) error {
	if s.silent {
		return nil
	}
	return s.Twin.Send(p)
}

func (s *sick) Receive(p []byte, wait time.Duration) (int, error) {
	for until := s.Now() + wait; s.silent && s.Now() < until; { // time goes on, and nothing is heard
		if _, err := s.Twin.Receive(p, until-s.Now()); err != nil {
			return 0, err
		}
	}
	if s.silent {
		return 0, nil
	}
	if len(s.garbage) > 0 {
		n := copy(p, s.garbage)
		s.garbage = s.garbage[n:]
		return n, nil
	}
	return s.Twin.Receive(p, wait)
}

// restart makes the firmware start anew, unasked by the host: the request of the protocol, with a tag of its own.
func (s *sick) restart() error {
	if err := s.Twin.Send(link.EncodeFrame([]byte{0x26, 0xee})); err != nil {
		return err
	}
	for until := s.Now() + 30*time.Millisecond; s.Now() < until; { // else the host's next request takes its place
		if _, err := s.Twin.Receive(make([]byte, 256), until-s.Now()); err != nil {
			return err
		}
	}
	return nil
}

// soaked is the device of a soak: a conversation over a bad line to a sick twin.
type soaked struct {
	*link.Conn
	line   *capturetest.BadLine
	sick   *sick
	cycles int // how often its power was taken
}

func (d *soaked) CanReset() bool                { return true }
func (d *soaked) HasPower() bool                { return true }
func (d *soaked) Branch() (func() error, error) { return nil, nil }
func (d *soaked) PowerCycle(ctx context.Context, _ time.Duration) error {
	d.cycles++
	d.mend()
	if err := d.sick.restart(); err != nil {
		return err
	}
	return d.Greet(ctx)
}

// mend makes line and device whole.
func (d *soaked) mend() {
	d.line.Noise.Rate, d.line.Noise.LogEvery, d.line.StallEvery = 0, 0, 0
	d.sick.silent, d.sick.garbage = false, nil
}
