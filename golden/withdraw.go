package golden

import (
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"time"
)

// GitAttributes is what a repository with goldens needs in its .gitattributes. The order of a ledger's
// lines means nothing, so both sides of a merge are kept.
const GitAttributes = "ledger.jsonl merge=union text eol=lf\n*.png binary\n"

// Withdraw takes goldens away: each look gets a line in the ledger that says so, and its picture is
// removed. Like an approval it takes effect as a whole or not at all, unless the error is ErrUnfinished.
// The goldens are given as [Store.Goldens] returns them: one that has been approved anew since is
// refused with ErrStale. It returns the new lines.
func (s *Store) Withdraw(goldens []Entry, who, why string, when time.Time) ([]Entry, error) {
	who, why = strings.TrimSpace(who), strings.TrimSpace(why)
	switch {
	case len(goldens) == 0:
		return nil, nil
	case who == "":
		return nil, fmt.Errorf("withdraw goldens: nobody is named as withdrawing: %w", ErrApproval)
	case why == "":
		return nil, fmt.Errorf("withdraw goldens: no reason is given: %w", ErrApproval)
	case when.IsZero():
		return nil, fmt.Errorf("withdraw goldens: no time is given: %w", ErrApproval)
	}
	led, end, err := s.begin()
	if err != nil {
		return nil, err
	}
	defer end()
	s.finish(led)
	var steps []step
	var out []Entry
	for _, g := range goldens {
		st, err := s.planWithdrawal(led, g)
		if err != nil {
			return nil, fmt.Errorf("withdraw %s/%s/%s: %w", g.Target, g.Walk, g.Look, err)
		}
		st.entry.Who, st.entry.Why, st.entry.When = who, why, when.UTC().Truncate(time.Second)
		if st.line, err = st.entry.line(); err != nil {
			return nil, err
		}
		steps = append(steps, st)
		out = append(out, st.entry)
	}
	if err := s.commit(led, steps); err != nil {
		return nil, err
	}
	return out, nil
}

func (s *shared) planWithdrawal(led *ledger, g Entry) (step, error) {
	k, err := g.key()
	if err != nil {
		return step{}, err
	}
	c := led.chain(k)
	now, ok, err := c.golden()
	switch {
	case err != nil:
		return step{}, err
	case !ok:
		return step{}, fmt.Errorf("it has no golden of its own: %w", ErrNoGolden)
	case now.Hash != g.Hash:
		return step{}, fmt.Errorf("%s approved it anew on %s: %w", now.Who, day(now), ErrStale)
	}
	if err := s.noLinks(k.file()); err != nil {
		return step{}, err
	}
	e := Entry{Target: now.Target, Walk: now.Walk, Look: now.Look, Photo: now.Photo,
		SHA256: now.SHA256, Withdrawn: true, Replaced: now.SHA256}
	for i, h := range c.heads() {
		if i == 0 {
			e.Prev = h.Hash
		} else {
			e.Settles = append(e.Settles, h.Hash)
		}
	}
	return step{key: k, entry: e, gone: true}, nil
}

// Discard removes pictures that no line of the ledger knows, given as Check reported them. Whatever is
// no such picture any more is left alone. It returns the files that it removed.
func (s *Store) Discard(orphans []Problem) ([]string, error) {
	if len(orphans) == 0 {
		return nil, nil
	}
	end, err := s.lock()
	if err != nil {
		return nil, err
	}
	defer end()
	now, err := s.check()
	if err != nil {
		return nil, err
	}
	still := map[string]bool{}
	for _, p := range now.Problems {
		if p.Kind == Orphaned || p.Kind == Misnamed {
			still[p.File] = true
		}
	}
	var done, dirs []string
	for _, p := range orphans {
		if !still[p.File] {
			continue
		}
		name := strings.TrimPrefix(p.File, s.name+"/")
		if err := s.fs.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return done, fmt.Errorf("remove %q: %w", p.File, err)
		}
		done = append(done, p.File)
		if i := strings.LastIndexByte(name, '/'); i >= 0 {
			dirs = append(dirs, name[:i])
		} else {
			dirs = append(dirs, ".")
		}
	}
	return done, s.syncDirs(dirs)
}
