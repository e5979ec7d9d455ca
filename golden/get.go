package golden

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"io/fs"
	"path"
	"strings"

	"github.com/fascia-bench/fascia/capture/picture"
)

// retries bounds how often a reader starts over because an approval went through under its eyes.
const retries = 5

// errNone is the inner form of ErrNoGolden: this target has none of its own.
var errNone = errors.New("none here")

// Get returns the golden of a look and the approval it rests on. If the target has none, the target
// that it inherits from is asked; Entry.Target tells whose golden it is.
//
// The error is ErrNoGolden if nobody has approved the look, else one that says what is wrong with the
// store: ErrMissing, ErrAltered, ErrUnrecorded, ErrForked, ErrLedger, ErrLink, ErrInherits or ErrName.
func (s *Store) Get(target, walk, look string) (image.Image, Entry, error) {
	k, err := s.key(target, walk, look)
	if err != nil {
		return nil, Entry{}, err
	}
	for try := 0; ; try++ {
		led, err := s.load()
		if err != nil {
			return nil, Entry{}, err
		}
		img, e, err := s.lookup(led, k)
		// The second look is for the moment in which a picture went from pending to its place.
		if err == nil || try == retries || try > 0 && !s.changed(led) {
			return img, e, err
		}
	}
}

// lookup finds the golden in the target or those that it inherits from.
func (s *shared) lookup(led *ledger, k key) (image.Image, Entry, error) {
	targets, err := s.lineage(k.target)
	if err != nil {
		return nil, Entry{}, err
	}
	for _, t := range targets {
		k.target = t
		img, e, err := s.own(led, k)
		if !errors.Is(err, errNone) {
			return img, e, err
		}
	}
	k.target = targets[0]
	return nil, Entry{}, fmt.Errorf("golden %q: nobody has approved this look yet: %w", s.at(k.file()), ErrNoGolden)
}

// own finds the golden of just this target and proves it against the ledger. errNone: there is none.
func (s *shared) own(led *ledger, k key) (image.Image, Entry, error) {
	c := led.chain(k)
	fail := func(err error) (image.Image, Entry, error) {
		return nil, Entry{}, fmt.Errorf("golden %q: %w", s.at(k.file()), err)
	}
	e, approved, err := c.golden()
	if err != nil {
		return fail(err)
	}
	img, hash, err := s.picture(k.file())
	gone := errors.Is(err, fs.ErrNotExist)
	switch {
	case errors.Is(err, ErrLink):
		return fail(err)
	case !approved && gone:
		return nil, Entry{}, errNone
	case !approved && s.remnant(c, hash):
		return nil, Entry{}, errNone // a withdrawal was interrupted before the picture was removed
	case !approved:
		return fail(fmt.Errorf("the ledger has no approval of this picture: %w", ErrUnrecorded))
	case err == nil && hash == e.SHA256:
		return img, e, nil
	}
	// The ledger is ahead of the picture: an approval was interrupted after it was recorded.
	goldens, _ := c.current()
	for _, g := range goldens {
		if img, hash, err := s.picture(k.pending(g.Hash)); err == nil && hash == g.SHA256 {
			return img, g, nil
		}
	}
	switch {
	case gone:
		return fail(fmt.Errorf("%s approved it on %s, and the file is not there: %w", e.Who, day(e), ErrMissing))
	case err != nil:
		return fail(fmt.Errorf("%w: %w", ErrAltered, err))
	}
	for _, old := range c.lines {
		if old.whole() && old.SHA256 == hash {
			return fail(fmt.Errorf("it holds what %s approved on %s, but %s approved another picture on %s: %w",
				old.Who, day(old), e.Who, day(e), ErrAltered))
		}
	}
	return fail(fmt.Errorf("its pixels hash to %.12s…, but %s approved %.12s… on %s: %w", hash, e.Who, e.SHA256, day(e), ErrAltered))
}

// remnant reports whether a picture with that hash is one that was withdrawn.
func (s *shared) remnant(c *chain, hash string) bool {
	w, ok := c.withdrawn()
	return ok && w.SHA256 == hash
}

// picture reads a PNG of the store and its pixels' hash.
func (s *shared) picture(file string) (image.Image, string, error) {
	data, err := s.readOwn(file)
	if err != nil {
		return nil, "", err
	}
	img, err := picture.Decode(bytes.NewReader(data), s.at(file))
	if err != nil {
		return nil, "", err
	}
	return img, picture.Hash(img), nil
}

// readOwn reads a file that must be the store's own: no link stands for it or a folder above it.
func (s *shared) readOwn(file string) ([]byte, error) {
	if err := s.noLinks(file); err != nil {
		return nil, err
	}
	return s.fs.ReadFile(file)
}

// noLinks refuses symbolic links on the way to file, which may not exist. A link to another look or
// target would make an approval of one an approval of the other; inherits is the way to share.
func (s *shared) noLinks(file string) error {
	for end := 0; end < len(file); {
		if i := strings.IndexByte(file[end:], '/'); i >= 0 {
			end += i
		} else {
			end = len(file)
		}
		info, err := s.fs.Lstat(file[:end])
		if errors.Is(err, fs.ErrNotExist) {
			return nil
		}
		if err != nil {
			return err
		}
		if info.Mode()&fs.ModeSymlink != 0 {
			return fmt.Errorf("%q: %w", s.at(file[:end]), ErrLink)
		}
		end++
	}
	return nil
}

// lineage returns the target and those it inherits from, nearest first.
func (s *shared) lineage(target string) ([]string, error) {
	out := []string{target}
	for {
		file := path.Join(target, inheritsFile)
		raw, err := s.readOwn(file)
		if errors.Is(err, fs.ErrNotExist) {
			return out, nil
		}
		if err != nil {
			return nil, fmt.Errorf("read %q: %w", s.at(file), err)
		}
		if target, err = FileName(strings.TrimSpace(string(raw))); err != nil || bytes.Count(bytes.TrimSpace(raw), []byte("\n")) > 0 {
			return nil, fmt.Errorf("%q should hold the name of one target, on one line: %w", s.at(file), ErrInherits)
		}
		for _, t := range out {
			if t == target {
				return nil, fmt.Errorf("%q leads back to target %q: %w", s.at(file), target, ErrInherits)
			}
		}
		if out = append(out, target); len(out) > maxLineage {
			return nil, fmt.Errorf("%q: more than %d targets inherit in a row: %w", s.at(file), maxLineage, ErrInherits)
		}
	}
}

// Log returns all approvals of a look, oldest first, of the whole look and of its regions. If the
// target has none, those of the target that it inherits from.
func (s *Store) Log(target, walk, look string) ([]Entry, error) {
	r, err := s.Read()
	if err != nil {
		return nil, err
	}
	return r.Log(target, walk, look)
}

// Log is Store.Log at the moment of the reading.
func (r *Reading) Log(target, walk, look string) ([]Entry, error) {
	k, err := r.store.key(target, walk, look)
	if err != nil {
		return nil, err
	}
	targets, err := r.store.lineage(k.target)
	if err != nil {
		return nil, err
	}
	for _, k.target = range targets {
		if h := r.led.chain(k).history(); len(h) > 0 {
			return h, nil
		}
	}
	return nil, nil
}

// Entries returns all lines of the ledger: look after look in the order of their files, each look's oldest
// first, photos too.
func (s *Store) Entries() ([]Entry, error) {
	led, err := s.load()
	if err != nil {
		return nil, err
	}
	var out []Entry
	for _, k := range led.keys() {
		out = append(out, led.chain(k).history()...)
	}
	return out, nil
}

// Goldens returns the approval in force of every look of every target, in the order of their files,
// for photos too. Looks whose chain is forked over different pictures are left out; Check names them.
func (s *Store) Goldens() ([]Entry, error) {
	led, err := s.load()
	if err != nil {
		return nil, err
	}
	var out []Entry
	for _, k := range led.keys() {
		if e, ok, err := led.chain(k).golden(); ok && err == nil {
			out = append(out, e)
		}
	}
	return out, nil
}
