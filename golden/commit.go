package golden

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"strings"
)

// How an approval gets to disk. The ledger's rename is the one moment at which a whole call takes
// effect; a machine that stops at any other moment leaves what is told on the right.
//
//	1. each picture into .<look>.<line hash>.pending,     old goldens in force; pending files that no
//	   in the folder of its golden; files synced,         line names, which Repair removes
//	   then their folders
//	2. the old ledger and the new lines into
//	   .ledger.jsonl.next, synced                         as above
//	3. rename to ledger.jsonl, folder synced              from here on the new goldens are in force: Get
//	                                                      finds the line, and its picture pending
//	4. each pending file renamed to its golden,           pending files whose line is in force, which
//	   folders synced                                     Repair renames
//
// A withdrawal has steps 2 and 3, and in 4 its picture is removed. Until then Get leaves the picture
// alone, as the line says that the look has none, and Repair removes it.
//
// Pictures wait in the folder where they will stay, so that a full disk, a folder that may not be
// written to or another disk shows in step 1, when nothing has happened yet. The ledger is written
// anew rather than appended to, so that it never ends in half a line.

// commit writes the steps of one call. The lock is held.
func (s *shared) commit(led *ledger, steps []step) error {
	staged, err := s.stage(steps)
	if err == nil {
		err = s.record(led, steps)
	}
	if errors.Is(err, ErrUnfinished) {
		return err
	}
	if err != nil {
		for _, name := range append(staged, ledgerNext) {
			s.fs.Remove(name) // as far as possible; Repair removes what stays
		}
		return fmt.Errorf("write approvals to %q, nothing was approved: %w", s.name, err)
	}
	return s.place(steps)
}

// stage does step 1. It returns the files it made, if it fails too.
func (s *shared) stage(steps []step) (made []string, err error) {
	var dirs []string
	for _, st := range steps {
		if st.png == nil {
			continue
		}
		if err := s.makeDirs(st.key.dir()); err != nil {
			return made, err
		}
		name := st.key.pending(st.entry.Hash)
		made = append(made, name)
		if err := s.writeSynced(name, st.png); err != nil {
			return made, err
		}
		dirs = append(dirs, st.key.dir())
	}
	return made, s.syncDirs(dirs)
}

// record does steps 2 and 3.
func (s *shared) record(led *ledger, steps []step) error {
	if err := s.noLinks(ledgerFile); err != nil {
		return err
	}
	next := bytes.Clone(led.raw)
	if len(next) > 0 && next[len(next)-1] != '\n' {
		next = append(next, '\n')
	}
	for _, st := range steps {
		next = append(append(next, st.line...), '\n')
	}
	if err := s.writeSynced(ledgerNext, next); err != nil {
		return err
	}
	if err := s.fs.Rename(ledgerNext, ledgerFile); err != nil {
		// Over a network, a rename may be reported as failed and have happened. The pending pictures
		// must not be taken away then.
		now, rerr := s.fs.ReadFile(ledgerFile)
		if bytes.Equal(now, next) || rerr != nil && !errors.Is(rerr, fs.ErrNotExist) {
			return unfinished(err)
		}
		return err
	}
	if err := s.fs.SyncDir("."); err != nil {
		return unfinished(err)
	}
	return nil
}

// place does step 4. What does not work stays pending, and Get finds it there.
func (s *shared) place(steps []step) error {
	var dirs []string
	var first error
	for _, st := range steps {
		if st.png == nil && !st.gone {
			continue
		}
		var err error
		if st.gone {
			if err = s.fs.Remove(st.key.file()); errors.Is(err, fs.ErrNotExist) {
				continue
			}
		} else {
			err = s.fs.Rename(st.key.pending(st.entry.Hash), st.key.file())
		}
		if err != nil && first == nil {
			first = err
		}
		dirs = append(dirs, st.key.dir())
	}
	if err := s.syncDirs(dirs); first == nil {
		first = err
	}
	if first != nil {
		return unfinished(first)
	}
	return nil
}

func unfinished(err error) error { return fmt.Errorf("%w: %w", ErrUnfinished, err) }

// writeSynced writes a new file whose content is on disk when it returns.
func (s *shared) writeSynced(name string, data []byte) error {
	f, err := s.fs.Create(name)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	return err
}

// makeDirs makes a folder and those above it, each entry on disk before something is put below it.
func (s *shared) makeDirs(name string) error {
	if err := s.noLinks(name); err != nil {
		return err
	}
	parent := "."
	for _, part := range strings.Split(name, "/") {
		sub := path.Join(parent, part)
		switch info, err := s.fs.Lstat(sub); {
		case err == nil && !info.IsDir():
			return fmt.Errorf("%q: a file stands where a folder should be", s.at(sub))
		case err == nil:
		case !errors.Is(err, fs.ErrNotExist):
			return err
		default:
			if err := s.fs.Mkdir(sub); err != nil {
				return err
			}
			if err := s.fs.SyncDir(parent); err != nil {
				return err
			}
		}
		parent = sub
	}
	return nil
}

// syncDirs syncs each folder once.
func (s *shared) syncDirs(dirs []string) error {
	done := map[string]bool{}
	for _, d := range dirs {
		if done[d] {
			continue
		}
		done[d] = true
		if err := s.fs.SyncDir(d); err != nil {
			return err
		}
	}
	return nil
}
