package golden

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strings"
	"time"
)

// ledger is the parsed record, one chain a look.
type ledger struct {
	raw    []byte
	chains map[key]*chain
	file   fs.FileInfo // of what was read; nil if that may change unseen
}

// chain holds a look's lines by hash, so neither their order nor repeats matter.
type chain struct {
	lines map[string]Entry
}

// leftAlone is how long a file has to have been left alone before the time of its last change tells whether it was changed
// again: file systems count in steps, FAT's of two seconds.
const leftAlone = 3 * time.Second

// load returns the ledger as it stands. It is read unless its file is the one that was read last, and parsed only if it has
// changed: every look asks, and a ledger has a line for each.
func (s *shared) load() (*ledger, error) {
	file, err := s.fs.Lstat(ledgerFile)
	if err != nil || time.Since(file.ModTime()) < leftAlone {
		file = nil
	}
	if led := s.readFrom(file); led != nil {
		return led, nil
	}
	raw, err := s.readOwn(ledgerFile)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("read ledger: %w", err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.read != nil && bytes.Equal(s.read.raw, raw) {
		s.read.file = file
		return s.read, nil
	}
	led, err := parseLedger(raw, s.at(ledgerFile))
	if err != nil {
		return nil, err
	}
	led.file = file
	s.read = led
	return led, nil
}

// readFrom is the ledger as last read, if it was read from that file as it is now; else nil.
func (s *shared) readFrom(now fs.FileInfo) *ledger {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.read == nil || s.read.file == nil || now == nil {
		return nil
	}
	was := s.read.file
	if !os.SameFile(was, now) || was.Size() != now.Size() || !was.ModTime().Equal(now.ModTime()) {
		return nil
	}
	return s.read
}

// changed reports whether the ledger is no longer the one that led was read from.
func (s *shared) changed(led *ledger) bool {
	now, err := s.load()
	return err == nil && now != led
}

// parseLedger reads all lines; name is for errors, which name file and line. Line ends may be those
// of Windows, as git may make them.
func parseLedger(raw []byte, name string) (*ledger, error) {
	led := &ledger{raw: raw, chains: map[key]*chain{}}
	n := 0
	for line := range bytes.Lines(raw) {
		n++
		line = bytes.TrimRight(line, "\r\n")
		if len(bytes.TrimSpace(line)) == 0 {
			continue
		}
		e, err := parseLine(line)
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %w: %w", name, n, ErrLedger, err)
		}
		led.add(e)
	}
	return led, nil
}

func (l *ledger) add(e Entry) {
	k, _ := e.key() // parseLine and Approve have made sure of it
	c := l.chains[k]
	if c == nil {
		c = &chain{lines: map[string]Entry{}}
		l.chains[k] = c
	}
	c.lines[e.Hash] = e
}

// chain returns the look's lines, an empty chain if it has none.
func (l *ledger) chain(k key) *chain {
	if c := l.chains[k]; c != nil {
		return c
	}
	return &chain{}
}

// keys returns all looks in the order of their files.
func (l *ledger) keys() []key {
	out := make([]key, 0, len(l.chains))
	for k := range l.chains {
		out = append(out, k)
	}
	slices.SortFunc(out, func(a, b key) int { return strings.Compare(a.file(), b.file()) })
	return out
}

// newestFirst orders lines that nothing else orders, the same on every machine.
func newestFirst(a, b Entry) int {
	return cmp.Or(b.When.Compare(a.When), strings.Compare(a.Hash, b.Hash))
}

// heads returns the lines that no other line follows, newest first: one, unless the chain is forked.
func (c *chain) heads() []Entry {
	followed := map[string]bool{}
	for _, e := range c.lines {
		for _, h := range e.before() {
			followed[h] = true
		}
	}
	var out []Entry
	for h, e := range c.lines {
		if !followed[h] {
			out = append(out, e)
		}
	}
	slices.SortFunc(out, newestFirst)
	return out
}

// current walks back from the heads to the nearest lines about the whole look, approvals or
// withdrawals. It returns those, newest first, and the region approvals on the way, oldest first.
func (c *chain) current() (goldens, regions []Entry) {
	seen := map[string]bool{}
	for todo := c.heads(); len(todo) > 0; {
		e := todo[0]
		todo = todo[1:]
		if seen[e.Hash] {
			continue
		}
		seen[e.Hash] = true
		if e.whole() {
			goldens = append(goldens, e)
			continue
		}
		regions = append(regions, e)
		for _, h := range e.before() {
			if b, ok := c.lines[h]; ok {
				todo = append(todo, b)
			}
		}
	}
	slices.SortFunc(goldens, newestFirst)
	slices.SortFunc(regions, func(a, b Entry) int { return newestFirst(b, a) })
	return goldens, regions
}

// golden returns the approval in force, or ok == false if there is none. A fork whose sides approved
// the same pixels is no obstacle; one whose sides differ is ErrForked.
func (c *chain) golden() (e Entry, ok bool, err error) {
	goldens, _ := c.current()
	if len(goldens) == 0 {
		return Entry{}, false, nil
	}
	for _, other := range goldens[1:] {
		if other.SHA256 == goldens[0].SHA256 && other.Withdrawn == goldens[0].Withdrawn {
			continue
		}
		if lost := c.gaps(); len(lost) > 0 {
			return Entry{}, false, fmt.Errorf("the ledger has lost the line %.12s…, so which approval is the newest cannot be told: %w", lost[0], ErrForked)
		}
		if other.Withdrawn != goldens[0].Withdrawn {
			return Entry{}, false, fmt.Errorf("%s and %s: %w", deed(goldens[0]), deed(other), ErrForked)
		}
		return Entry{}, false, fmt.Errorf("%s approved one picture on %s, %s another on %s: %w",
			goldens[0].Who, day(goldens[0]), other.Who, day(other), ErrForked)
	}
	return goldens[0], !goldens[0].Withdrawn, nil
}

// withdrawn returns the withdrawal that took the look's golden away and nothing has followed.
func (c *chain) withdrawn() (Entry, bool) {
	goldens, _ := c.current()
	if _, ok, err := c.golden(); ok || err != nil || len(goldens) == 0 {
		return Entry{}, false
	}
	return goldens[0], true
}

func deed(e Entry) string {
	if e.Withdrawn {
		return fmt.Sprintf("%s withdrew it on %s", e.Who, day(e))
	}
	return fmt.Sprintf("%s approved it on %s", e.Who, day(e))
}

func day(e Entry) string { return e.When.Format("2006-01-02") }

// gaps returns the hashes of lines that others follow and the ledger does not have.
func (c *chain) gaps() []string {
	lost := map[string]bool{}
	for _, e := range c.lines {
		for _, h := range e.before() {
			if _, ok := c.lines[h]; !ok {
				lost[h] = true
			}
		}
	}
	out := make([]string, 0, len(lost))
	for h := range lost {
		out = append(out, h)
	}
	slices.Sort(out)
	return out
}

// history returns all lines, each after those that it follows; lines that nothing orders go by time.
func (c *chain) history() []Entry {
	var out []Entry
	placed := map[string]bool{}
	left := make([]Entry, 0, len(c.lines))
	for _, e := range c.lines {
		left = append(left, e)
	}
	slices.SortFunc(left, func(a, b Entry) int { return newestFirst(b, a) })
	for len(left) > 0 {
		i := slices.IndexFunc(left, func(e Entry) bool {
			return !slices.ContainsFunc(e.before(), func(h string) bool {
				_, here := c.lines[h]
				return here && !placed[h]
			})
		})
		if i < 0 { // would need a line that contains its own hash
			i = 0
		}
		placed[left[i].Hash] = true
		out = append(out, left[i])
		left = slices.Delete(left, i, i+1)
	}
	return out
}
