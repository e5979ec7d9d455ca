package link

import (
	"errors"
	"fmt"
	"io"
	"sync"
	"time"
)

// rwStream makes a Stream of anything that can be read and written: a pipe, a socket, a port.
// A goroutine reads without pause, so the device never waits on a full buffer.
type rwStream struct {
	rw    io.ReadWriteCloser
	start time.Time

	mu   sync.Mutex
	have []byte
	err  error
	wake chan struct{} // holds a token when have or err changed
	once sync.Once
}

// maxBacklog bounds what is kept of a device that floods the line while nobody looks.
const maxBacklog = 8 << 20

// NewStream returns a Stream on rw, in real time.
func NewStream(rw io.ReadWriteCloser) Stream {
	s := &rwStream{rw: rw, start: time.Now(), wake: make(chan struct{}, 1)}
	go s.pull()
	return s
}

func (s *rwStream) pull() {
	buf := make([]byte, 64<<10)
	for {
		n, err := s.rw.Read(buf)
		s.mu.Lock()
		s.have = append(s.have, buf[:n]...)
		if len(s.have) > maxBacklog {
			s.have = append(s.have[:0], s.have[len(s.have)-maxBacklog/2:]...)
		}
		s.err = err
		s.mu.Unlock()
		select {
		case s.wake <- struct{}{}:
		default:
		}
		if err != nil {
			return
		}
	}
}

func (s *rwStream) Now() time.Duration { return time.Since(s.start) }

func (s *rwStream) Receive(p []byte, wait time.Duration) (int, error) {
	timer := time.NewTimer(wait)
	defer timer.Stop()
	for {
		s.mu.Lock()
		n := copy(p, s.have)
		s.have = s.have[n:]
		err := s.err
		s.mu.Unlock()
		if n > 0 {
			return n, nil
		}
		if errors.Is(err, io.EOF) {
			return 0, fmt.Errorf("the device closed the line: %w", io.EOF)
		}
		if err != nil {
			return 0, fmt.Errorf("read from the device: %w", err)
		}
		select {
		case <-s.wake:
		case <-timer.C:
			return 0, nil
		}
	}
}

func (s *rwStream) Send(p []byte) error {
	if _, err := s.rw.Write(p); err != nil {
		return fmt.Errorf("write to the device: %w", err)
	}
	return nil
}

func (s *rwStream) Close() error {
	var err error
	s.once.Do(func() { err = s.rw.Close() })
	return err
}
