package golden

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture/picture"
)

// NoGolden is the value of Approval.Saw for a look that had no golden, or a forked one.
const NoGolden = "none"

// Approval asks for one look's capture, or a region of it, to be taken for right.
type Approval struct {
	Target, Walk, Look string
	Picture            image.Image // the whole capture, always
	// Region, if set, approves only that part of the panel, in pixels from its top left: the golden
	// stays, and the region's pixels count as approved. Once every difference of a capture lies in
	// approved regions, the next approval of a region of it makes that capture the golden.
	Region *image.Rectangle
	// Saw is the picture.Hash of the golden that the approver was shown, or NoGolden: if the golden
	// is another by now, the approval is refused. "" leaves that unchecked.
	Saw string

	Who, Why string    // required
	When     time.Time // required; kept in whole seconds
	// What is known of the capture's origin: run, device, firmware build, drawing library.
	Run, Device, Build, Library string
}

// ready is an approval that is complete in itself.
type ready struct {
	Approval
	key  key
	pix  *image.NRGBA
	hash string
}

// step is one line to write and, for a new golden, its picture.
type step struct {
	key   key
	entry Entry
	line  []byte
	png   []byte // nil: the golden stays, or the file has these pixels already
	gone  bool   // the picture goes
}

// Approve records approvals and puts their pictures in place: all of them, or none if it returns an
// error other than ErrUnfinished. It returns the ledger's entries in the order of the approvals. A look
// may be approved once in a call, or in several regions. Approving a forked look settles the fork.
func (s *Store) Approve(approvals []Approval) ([]Entry, error) {
	todo := make([]ready, len(approvals))
	wholes := map[key]int{}
	for i, a := range approvals {
		r, err := s.complete(a)
		if err != nil {
			return nil, fmt.Errorf("approve %s/%s/%s: %w", a.Target, a.Walk, a.Look, err)
		}
		todo[i] = r
		if a.Region == nil {
			wholes[r.key]++
		}
	}
	for i, r := range todo {
		if n := wholes[r.key]; n > 1 || n == 1 && r.Region != nil {
			a := approvals[i]
			return nil, fmt.Errorf("approve %s/%s/%s: approved twice in one go: %w", a.Target, a.Walk, a.Look, ErrApproval)
		}
	}
	if len(todo) == 0 {
		return nil, nil
	}

	led, end, err := s.begin()
	if err != nil {
		return nil, err
	}
	defer end()
	s.finish(led) // what an earlier approval left; should that not work, Check will tell
	steps, err := s.plan(led, todo)
	if err != nil {
		return nil, err
	}
	if err := s.commit(led, steps); err != nil {
		return nil, err
	}
	out := make([]Entry, len(steps))
	for i, st := range steps {
		out[i] = st.entry
	}
	return out, nil
}

// lock takes the store for writing, from other goroutines and other processes, until end.
func (s *Store) lock() (end func(), err error) {
	s.approving.Lock()
	unlock, err := s.fs.Lock()
	if err != nil {
		s.approving.Unlock()
		return nil, err
	}
	return func() { unlock(); s.approving.Unlock() }, nil
}

// begin is lock, with the ledger as it stands then.
func (s *Store) begin() (led *ledger, end func(), err error) {
	if end, err = s.lock(); err != nil {
		return nil, nil, err
	}
	if led, err = s.load(); err != nil {
		end()
		return nil, nil, err
	}
	return led, end, nil
}

// complete checks what can be checked without the store.
func (s *Store) complete(a Approval) (ready, error) {
	r := ready{Approval: a}
	r.Who, r.Why = strings.TrimSpace(a.Who), strings.TrimSpace(a.Why)
	switch {
	case r.Who == "":
		return r, fmt.Errorf("nobody is named as approving: %w", ErrApproval)
	case r.Why == "":
		return r, fmt.Errorf("no reason is given: %w", ErrApproval)
	case a.When.IsZero():
		return r, fmt.Errorf("no time is given: %w", ErrApproval)
	case a.Picture == nil || a.Picture.Bounds().Empty():
		return r, fmt.Errorf("there is no capture: %w", ErrApproval)
	case a.Saw != "" && a.Saw != NoGolden && !isHash(a.Saw):
		return r, fmt.Errorf("%q is no hash of a golden: %w", a.Saw, ErrApproval)
	}
	var err error
	if r.key, err = s.key(a.Target, a.Walk, a.Look); err != nil {
		return r, err
	}
	r.pix = picture.Pix(a.Picture)
	r.hash = picture.Hash(r.pix)
	return r, nil
}

// plan makes the lines, each following those before it. It writes nothing.
func (s *shared) plan(led *ledger, todo []ready) ([]step, error) {
	// Lines of this call are added to a ledger of its own, so that several regions of a look chain.
	next := &ledger{chains: map[key]*chain{}}
	steps := make([]step, 0, len(todo))
	promoted := map[key]bool{}
	for _, r := range todo {
		if next.chains[r.key] == nil {
			for _, e := range led.chain(r.key).lines {
				next.add(e)
			}
		}
		st, err := s.planOne(led, next.chain(r.key), r, promoted)
		if err != nil {
			return nil, fmt.Errorf("approve %s/%s/%s: %w", r.Target, r.Walk, r.Look, err)
		}
		next.add(st.entry)
		steps = append(steps, st)
	}
	return steps, nil
}

// planOne makes the line of one approval: c holds the look's lines up to it, led is as on disk.
func (s *shared) planOne(led *ledger, c *chain, r ready, promoted map[key]bool) (step, error) {
	k := r.key
	st := step{key: k, entry: Entry{
		Target: r.Target, Walk: r.Walk, Look: r.Look, Photo: k.photo,
		SHA256: r.hash, Who: r.Who, Why: r.Why, When: r.When.UTC().Truncate(time.Second),
		Run: r.Run, Device: r.Device, Build: r.Build, Library: r.Library,
	}}
	e := &st.entry
	if r.Region != nil {
		if promoted[k] {
			return st, fmt.Errorf("every difference is approved already, and this call makes the capture the golden: %w", ErrApproval)
		}
		if err := s.asRegion(led, k, r, e); err != nil {
			return st, err
		}
		promoted[k] = e.whole()
	}
	before, err := s.inForce(led, k)
	forked := errors.Is(err, ErrForked)
	if err != nil && !forked {
		return st, err
	}
	now := before // what Get would have to show
	if before == "" || forked {
		now = NoGolden
	}
	if r.Saw != "" && r.Saw != now {
		return st, fmt.Errorf("the approver was shown golden %.12s, by now it is %.12s: %w", r.Saw, now, ErrStale)
	}
	if e.whole() {
		e.Replaced = before
		if st.png, err = s.encode(k, r); err != nil {
			return st, err
		}
	}
	for i, h := range c.heads() {
		if i == 0 {
			e.Prev = h.Hash
		} else {
			e.Settles = append(e.Settles, h.Hash)
		}
	}
	st.line, err = e.line()
	return st, err
}

// inForce returns the hash of the golden that the ledger says a look has, inherited or its own, "" if
// it has none. The picture is not looked at: approving a look also mends one that is missing.
func (s *shared) inForce(led *ledger, k key) (string, error) {
	targets, err := s.lineage(k.target)
	if err != nil {
		return "", err
	}
	for _, k.target = range targets {
		e, ok, err := led.chain(k).golden()
		if err != nil { // of a fork, the newest that stands
			goldens, _ := led.chain(k).current()
			for _, g := range goldens {
				if !g.Withdrawn {
					return g.SHA256, err
				}
			}
			return "", err
		}
		if ok {
			return e.SHA256, nil
		}
	}
	return "", nil
}

// encode returns the golden's file, or nil if it is there already: the same pixels give no new bytes,
// even if another release of the tool would pack them differently.
func (s *shared) encode(k key, r ready) ([]byte, error) {
	_, hash, err := s.picture(k.file())
	if errors.Is(err, ErrLink) {
		return nil, err
	}
	if err == nil && hash == r.hash {
		return nil, nil
	}
	var b bytes.Buffer
	if err := picture.EncodePNG(&b, r.pix); err != nil {
		return nil, err
	}
	// What is stored must be what Get will read: prove it before anything depends on it.
	back, err := picture.Decode(bytes.NewReader(b.Bytes()), k.file())
	if err != nil {
		return nil, err
	}
	if got := picture.Hash(back); got != r.hash {
		return nil, fmt.Errorf("the PNG of %.12s… reads back as %.12s…", r.hash, got)
	}
	return b.Bytes(), nil
}
