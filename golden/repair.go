package golden

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
)

// Repair settles what interrupted approvals and withdrawals left behind: pictures whose approval is
// recorded get their place, those of approvals that never took effect or were withdrawn are removed. It returns what it settled, as
// Check had it. All other problems need a person; Check keeps telling them.
func (s *Store) Repair() ([]Problem, error) {
	r, err := s.Check()
	if err != nil || !slices.ContainsFunc(r.Problems, func(p Problem) bool { return p.Kind == Leftover }) {
		return nil, err // nothing to write, so a folder that may not be written to is no obstacle
	}
	led, end, err := s.begin()
	if err != nil {
		return nil, err
	}
	defer end()
	done, err := s.finish(led)
	if err != nil {
		return done, fmt.Errorf("repair goldens: %w", err)
	}
	return done, nil
}

// finish is Repair with the lock held.
func (s *shared) finish(led *ledger) (done []Problem, err error) {
	t, err := s.scan()
	if err != nil {
		return nil, err
	}
	var dirs []string
	for _, f := range t.found {
		p := s.leftover(led, f)
		switch {
		case f.line == "" && !s.isRemnant(led, f):
			continue
		case f.line == "":
			p.Says = "it was withdrawn, and its picture was not removed yet"
			err = s.fs.Remove(f.name)
		case s.inPlace(led, f):
			err = s.fs.Rename(f.name, f.key.file())
		default:
			err = s.fs.Remove(f.name)
		}
		if err != nil {
			return done, err
		}
		done = append(done, p)
		dirs = append(dirs, f.key.dir())
	}
	switch err := s.fs.Remove(ledgerNext); {
	case err == nil:
		done = append(done, s.problem(Leftover, key{}, ledgerNext, "an approval was interrupted before it took effect", ""))
		dirs = append(dirs, ".")
	case !errors.Is(err, fs.ErrNotExist):
		return done, err
	}
	return done, s.syncDirs(dirs)
}

// inPlace reports whether a pending picture is the one that its look should show now. One that was
// overtaken by a later approval is not, nor one whose line is not in the ledger.
func (s *shared) inPlace(led *ledger, f file) bool {
	goldens, _ := led.chain(f.key).current()
	for _, e := range goldens {
		if e.Hash == f.line {
			_, hash, err := s.picture(f.name)
			return err == nil && hash == e.SHA256
		}
	}
	return false
}
