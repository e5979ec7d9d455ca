package twin

import (
	"bytes"
	"errors"
	"fmt"
	"time"
)

// Receive lets the firmware run, and time pass where it has nothing to do, until it sends
// something or wait is over.
func (t *Twin) Receive(p []byte, wait time.Duration) (int, error) {
	if t.mod == nil {
		return 0, errors.New("the twin is closed")
	}
	for until := t.now + wait; ; {
		if len(t.from) > 0 {
			n := copy(p, t.from)
			t.from = t.from[n:]
			return n, nil
		}
		if t.now >= until {
			return 0, nil
		}
		again, err := t.turn()
		if err != nil {
			return 0, err
		}
		// A step that always wants another one must not stop time.
		if t.spins++; !again || t.spins > 4096 {
			t.spins = 0
			t.now += time.Millisecond
		}
	}
}

// Send hands bytes to the firmware's next steps.
func (t *Twin) Send(p []byte) error {
	if t.mod == nil {
		return errors.New("the twin is closed")
	}
	t.to = append(t.to, p...)
	return nil
}

// Call calls a function that the module exports beside those of the ABI.
func (t *Twin) Call(name string, args ...uint64) (uint64, error) {
	if t.mod == nil {
		return 0, errors.New("the twin is closed")
	}
	f := t.mod.ExportedFunction(name)
	if f == nil {
		return 0, fmt.Errorf("the twin exports no %s", name)
	}
	t.watchdog.Reset(t.limit)
	defer t.watchdog.Stop()
	r, err := f.Call(t.ctx, args...)
	if err != nil {
		return 0, fmt.Errorf("call the twin's %s: %s", name, t.why(err))
	}
	if len(r) == 0 {
		return 0, nil
	}
	return r[0], nil
}

// Write puts bytes into the module's memory.
func (t *Twin) Write(address uint32, b []byte) error {
	if t.mod == nil {
		return errors.New("the twin is closed")
	}
	if !t.mod.Memory().Write(address, b) {
		return fmt.Errorf("%d bytes at %#x lie outside the twin's memory", len(b), address)
	}
	return nil
}

// Read takes bytes from the module's memory.
func (t *Twin) Read(address, n uint32) ([]byte, error) {
	if t.mod == nil {
		return nil, errors.New("the twin is closed")
	}
	b, ok := t.mod.Memory().Read(address, n)
	if !ok {
		return nil, fmt.Errorf("%d bytes at %#x lie outside the twin's memory", n, address)
	}
	return bytes.Clone(b), nil
}

// Now is virtual: the time since the first boot.
func (t *Twin) Now() time.Duration { return t.now }
