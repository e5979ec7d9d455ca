package simbench

import (
	"bytes"
	"net"
	"time"
)

const (
	slice = 20 * time.Millisecond // of the device's time between looks at what the host has sent
	quiet = 2 * time.Millisecond  // without a byte, of the device's time: its answer is out
	give  = 10 * time.Minute      // of the device's time for an answer: longer than any wait of a walk
)

// listen serves one host after the other, as a serial port does; a new one takes the line.
func (b *Bench) listen() {
	var last net.Conn
	for {
		c, err := b.tcp.Accept()
		if last != nil {
			_ = last.Close()
		}
		if err != nil {
			return // closed
		}
		last = c
		b.wait.Go(func() { b.serve(c) })
	}
}

// serve carries bytes between a host and the twin. The twin's time is virtual: it runs from what the host sends to
// the end of the answer, which is a frame's closing zero (PROTOCOL.md), and stands still between.
func (b *Bench) serve(c net.Conn) {
	defer c.Close()
	in := make(chan []byte)
	done := make(chan struct{})
	defer close(done)
	go func() {
		defer close(in)
		for {
			p := make([]byte, 4096)
			n, err := c.Read(p)
			if err != nil {
				return
			}
			select {
			case in <- p[:n]:
			case <-done:
				return
			}
		}
	}()
	for p := range in {
		if !b.answer(c, in, p) {
			return
		}
	}
}

// answer hands bytes to the twin and lets its time run until it has answered.
func (b *Bench) answer(c net.Conn, in <-chan []byte, p []byte) bool {
	out := make([]byte, 4096)
	answered := false
	for left := give; left > 0; {
		step := slice
		if answered {
			step = quiet
		}
		b.mu.Lock()
		if p != nil && b.t.Send(p) != nil {
			b.mu.Unlock()
			return false
		}
		before := b.t.Now()
		n, err := b.t.Receive(out, step)
		left -= b.t.Now() - before
		b.mu.Unlock()
		p = nil
		if err != nil {
			return false
		}
		if n > 0 {
			answered = answered || bytes.IndexByte(out[:n], 0) >= 0
			if _, err := c.Write(out[:n]); err != nil {
				return false
			}
			continue
		}
		if answered {
			return true
		}
		select { // what was sent may have been part of a request
		case more, ok := <-in:
			if !ok {
				return false
			}
			p = more
		default:
		}
	}
	return true
}
