package twin

import (
	"errors"
	"slices"
	"time"
)

// A Snapshot is a moment of a twin's life, to which it can be brought back.
type Snapshot struct {
	memory   []byte
	now      time.Duration
	to, from []byte // under way
}

// Snapshot copies the twin's memory and time. Between two steps that is all there is: a step leaves no
// stack, and a module without imports has no state elsewhere.
func (t *Twin) Snapshot() (*Snapshot, error) {
	if t.mod == nil {
		return nil, errors.New("the twin is closed")
	}
	mem := t.mod.Memory()
	all, ok := mem.Read(0, mem.Size())
	if !ok {
		return nil, errors.New("the twin's memory cannot be read")
	}
	return &Snapshot{memory: slices.Clone(all), now: t.now, to: slices.Clone(t.to), from: slices.Clone(t.from)}, nil
}

// Restore brings the twin back to a snapshot of this program, its time included. Boots stay counted, so
// that a later start has an id of its own.
func (t *Twin) Restore(s *Snapshot) error {
	if t.mod == nil {
		return errors.New("the twin is closed")
	}
	mem := t.mod.Memory()
	if have, want := mem.Size(), uint32(len(s.memory)); have < want {
		if _, ok := mem.Grow((want - have + 1<<16 - 1) >> 16); !ok {
			return errors.New("the twin's memory cannot grow to the snapshot's size")
		}
	}
	all, ok := mem.Read(0, mem.Size())
	if !ok {
		return errors.New("the twin's memory cannot be written")
	}
	clear(all[copy(all, s.memory):]) // what the module took since was zero when it took it
	t.now, t.spins, t.restarts = s.now, 0, 0
	t.to, t.from = slices.Clone(s.to), slices.Clone(s.from)
	return nil
}
