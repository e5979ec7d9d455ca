package golden

import (
	"bytes"
	"errors"
	"image"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/picture"
)

// lines returns the ledger's lines.
func lines(t *testing.T, s *Store) [][]byte {
	t.Helper()
	raw, err := s.fs.ReadFile(ledgerFile)
	if err != nil {
		t.Fatal(err)
	}
	return bytes.SplitAfter(bytes.TrimSuffix(raw, []byte("\n")), []byte("\n"))
}

// setLedger writes a ledger as git or an editor might.
func setLedger(t *testing.T, s *Store, raw []byte) {
	t.Helper()
	if err := s.writeSynced(ledgerFile, raw); err != nil {
		t.Fatal(err)
	}
}

// branch returns a copy of the store, as a checkout of another branch.
func branch(s *Store) *Store {
	return New(s.fs.(*memFS).afterCrash(keepAll), s.name)
}

// union merges two ledgers as git's union driver does where both sides appended: all lines of both.
func union(a, b [][]byte) []byte {
	var out []byte
	for _, l := range append(slices.Clone(a), b...) {
		out = append(append(out, bytes.TrimRight(l, "\r\n")...), '\n')
	}
	return out
}

func TestBrokenLedgerNamesItsLine(t *testing.T) {
	s := New(newMemFS(), "golden")
	approve(t, s, approval("w", "l", panel(1)))
	good := string(lines(t, s)[0])
	for _, tt := range []struct{ name, bad, says string }{
		{"half a line", good[:len(good)/2], "no JSON"},
		{"not JSON", "hello", "no JSON"},
		{"another type", `{"target":7}`, "no JSON"},
		{"conflict", "<<<<<<< HEAD", "merge conflict"},
		{"no look", strings.Replace(good, `"look":"l"`, `"look":""`, 1), "look"},
		{"short hash", strings.Replace(good, `"sha256":"`, `"sha256":"0`, 1), "64 hex digits"},
		{"bad prev", strings.Replace(good, `"prev":""`, `"prev":"x"`, 1), "64 hex digits"},
		{"bad box", strings.Replace(good, `"replaced"`, `"box":[0,0,0,5],"replaced"`, 1), "box"},
		{"nobody", strings.Replace(good, "Ada Fern", " ", 1), "who"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			setLedger(t, s, []byte(good+"\n\n"+tt.bad+"\n"+good+"\n"))
			for what, f := range map[string]func() error{
				"get":     func() error { _, _, err := s.Get(target, "w", "l"); return err },
				"check":   func() error { _, err := s.Check(); return err },
				"repair":  func() error { _, err := s.Repair(); return err },
				"log":     func() error { _, err := s.Log(target, "w", "l"); return err },
				"goldens": func() error { _, err := s.Goldens(); return err },
				"approve": func() error { _, err := s.Approve([]Approval{approval("w", "l", panel(2))}); return err },
			} {
				err := f()
				if !errors.Is(err, ErrLedger) || !strings.Contains(err.Error(), "golden/ledger.jsonl:3: ") || !strings.Contains(err.Error(), tt.says) {
					t.Errorf("%s: %v, want ErrLedger that names golden/ledger.jsonl:3 and %q", what, err, tt.says)
				}
			}
		})
	}
}

// Lines in any order, repeated, with the line ends of Windows, blank lines, no last line end, or fields
// of a later version.
func TestOrderOfLinesMeansNothing(t *testing.T) {
	s := New(newMemFS(), "golden")
	for n := range 6 {
		approve(t, s, approval("w", "l", panel(n)), approval("w", "m", panel(10+n)))
	}
	all := lines(t, s)
	want, _ := s.Log(target, "w", "l")
	for seed := range uint64(20) {
		rnd := rand.New(rand.NewPCG(seed, 0))
		mixed := append(slices.Clone(all), all[rnd.IntN(len(all))])
		rnd.Shuffle(len(mixed), func(i, j int) { mixed[i], mixed[j] = mixed[j], mixed[i] })
		raw := union(mixed, nil)
		if seed%2 == 0 {
			raw = bytes.TrimSuffix(bytes.ReplaceAll(raw, []byte("\n"), []byte("\r\n")), []byte("\r\n"))
		}
		setLedger(t, s, append([]byte("\n"), raw...))
		wantGolden(t, s, "w", "l", panel(5))
		wantGolden(t, s, "w", "m", panel(15))
		clean(t, s)
		got, err := s.Log(target, "w", "l")
		if err != nil || len(got) != 6 || !slices.EqualFunc(got, want, func(a, b Entry) bool { return a.Hash == b.Hash }) {
			t.Fatalf("log %+v, %v, want %+v", got, err, want)
		}
	}
	approve(t, s, approval("w", "l", panel(6))) // after a ledger without last line end
	clean(t, s)

	later := bytes.Replace(bytes.TrimSpace(lines(t, New(newLaterFS(t), "golden"))[0]), []byte(`"prev"`), []byte(`"mood":"good","prev"`), 1)
	m := New(newLaterFS(t), "golden")
	setLedger(t, m, later)
	wantGolden(t, m, "w", "l", panel(1))
	if e := approve(t, m, approval("w", "l", panel(2)))[0]; e.Prev != lineHash(later) {
		t.Errorf("the hash of a line must cover fields that are not known: %s, want %s", e.Prev, lineHash(later))
	}
	clean(t, m)
}

func newLaterFS(t *testing.T) *memFS {
	m := newMemFS()
	approve(t, New(m, "golden"), approval("w", "l", panel(1)))
	return m
}

// Two branches that approve different looks merge by keeping all lines.
func TestMergeOfDifferentLooks(t *testing.T) {
	base := New(newMemFS(), "golden")
	approve(t, base, approval("w", "l", panel(1)), approval("w", "m", panel(2)))
	ours, theirs := branch(base), branch(base)
	approve(t, ours, approval("w", "l", panel(3)))
	approve(t, theirs, approval("w", "m", panel(4)), approval("w", "n", panel(5)))
	setLedger(t, ours, union(lines(t, ours), lines(t, theirs)))
	for _, look := range []string{"m", "n"} { // git brings the pictures, too
		k := key{target: target, walk: "w", look: look}
		data, err := theirs.fs.ReadFile(k.file())
		if err != nil {
			t.Fatal(err)
		}
		if err := ours.writeSynced(k.file(), data); err != nil {
			t.Fatal(err)
		}
	}
	clean(t, ours)
	wantGolden(t, ours, "w", "l", panel(3))
	wantGolden(t, ours, "w", "m", panel(4))
	wantGolden(t, ours, "w", "n", panel(5))
}

// Two branches that approve the same look differently are a fork; the next approval settles it.
func TestFork(t *testing.T) {
	for _, tt := range []struct {
		name, why     string
		first         bool // the look had a golden before the branches parted
		ours, theirs  int
		getError      error
		theirsSettles bool
	}{
		{"two successors", "two pictures follow one", true, 3, 4, ErrForked, false},
		{"two firsts", "two branches approved a new look", false, 3, 4, ErrForked, false},
		{"same pixels", "a fork all the same, but there is only one picture to use", true, 3, 3, nil, false},
	} {
		t.Run(tt.name, func(t *testing.T) {
			base := New(newMemFS(), "golden")
			approve(t, base, approval("w", "other", panel(9)))
			if tt.first {
				approve(t, base, approval("w", "l", panel(1)))
			}
			ours, theirs := branch(base), branch(base)
			a := approve(t, ours, approval("w", "l", panel(tt.ours)))[0]
			byBo := approval("w", "l", panel(tt.theirs))
			byBo.Who = "Bo Reed"
			b := approve(t, theirs, byBo)[0]
			setLedger(t, ours, union(lines(t, ours), lines(t, theirs)))
			if _, _, err := ours.Get(target, "w", "l"); !errors.Is(err, tt.getError) || tt.getError != nil && !strings.Contains(err.Error(), "Bo Reed") {
				t.Errorf("get: %v, want %v: %s", err, tt.getError, tt.why)
			}
			r, err := ours.Check()
			if err != nil || len(r.Problems) != 1 || r.Problems[0].Kind != Forked || r.Problems[0].Look != "l" ||
				!strings.Contains(r.Problems[0].Says, "Bo Reed") || !strings.Contains(r.Problems[0].Do, "fascia approve --look") {
				t.Fatalf("check: %+v, %v; want one fork, who made it and what settles it", r.Problems, err)
			}
			settling := approval("w", "l", panel(tt.theirs))
			if tt.getError != nil {
				settling.Saw = NoGolden // a forked golden is shown to nobody
			}
			e := approve(t, ours, settling)[0]
			follows := append([]string{e.Prev}, e.Settles...)
			if len(follows) != 2 || !slices.Contains(follows, a.Hash) || !slices.Contains(follows, b.Hash) {
				t.Errorf("the settling line follows %v, want %s and %s", follows, a.Hash, b.Hash)
			}
			wantGolden(t, ours, "w", "l", panel(tt.theirs))
			clean(t, ours)
			if log, err := ours.Log(target, "w", "l"); err != nil || log[len(log)-1].Hash != e.Hash {
				t.Errorf("log %+v, %v; want the settling line last", log, err)
			}
			// Merging the same branch once more changes nothing.
			setLedger(t, ours, union(lines(t, ours), lines(t, theirs)))
			clean(t, ours)
		})
	}
}

// A region approved on one branch and the whole look on the other: a fork with two answers.
func TestForkOfRegionAndWhole(t *testing.T) {
	base := New(newMemFS(), "golden")
	approve(t, base, approval("w", "l", panel(1)))
	ours, theirs := branch(base), branch(base)
	part := approval("w", "l", dot(panel(1), 1, 1))
	part.Region = &image.Rectangle{Min: image.Pt(1, 1), Max: image.Pt(2, 2)}
	approve(t, ours, part)
	approve(t, theirs, approval("w", "l", panel(2)))
	setLedger(t, ours, union(lines(t, ours), lines(t, theirs)))
	if _, _, err := ours.Get(target, "w", "l"); !errors.Is(err, ErrForked) {
		t.Errorf("get: %v, want ErrForked", err)
	}
	if _, err := ours.Approve([]Approval{part}); !errors.Is(err, ErrForked) {
		t.Errorf("a region of a forked golden: %v, want ErrForked", err)
	}

	// Two regions on two branches share their golden: both count.
	ours, theirs = branch(base), branch(base)
	approve(t, ours, part)
	second := approval("w", "l", dot(panel(1), 3, 2))
	second.Region = &image.Rectangle{Min: image.Pt(3, 2), Max: image.Pt(4, 3)}
	approve(t, theirs, second)
	setLedger(t, ours, union(lines(t, ours), lines(t, theirs)))
	wantGolden(t, ours, "w", "l", panel(1))
	capture := dot(dot(panel(1), 1, 1), 3, 2)
	if ok, err := ours.Settled(target, "w", "l", capture); !ok || err != nil {
		t.Errorf("settled %v, %v, want true: the regions of both branches are approved", ok, err)
	}
	part.Picture = capture
	e := approve(t, ours, part)[0]
	if e.Box != nil || len(e.Settles) != 1 || e.SHA256 != picture.Hash(capture) {
		t.Errorf("the next approval should promote the capture and settle the fork: %+v", e)
	}
	clean(t, ours)
}

func TestLostLine(t *testing.T) {
	s := New(newMemFS(), "golden")
	for n := range 3 {
		approve(t, s, approval("w", "l", panel(n)))
	}
	all := lines(t, s)
	for i, getError := range []error{nil, ErrForked} { // the first line is history; the second orders the others
		setLedger(t, s, union(all[:i], all[i+1:]))
		if _, _, err := s.Get(target, "w", "l"); !errors.Is(err, getError) || err != nil && !strings.Contains(err.Error(), "lost the line "+lineHash(all[i][:len(all[i])-1])[:12]) {
			t.Errorf("line %d lost: get says %v, want %v", i+1, err, getError)
		}
		r, err := s.Check()
		if err != nil || len(r.Problems) != 1 || r.Problems[0].Kind != Gap || !strings.Contains(r.Problems[0].Do, "git log -p") {
			t.Errorf("line %d lost: check says %+v, %v; want the gap alone", i+1, r.Problems, err)
		}
	}
	setLedger(t, s, union(all, nil))
	clean(t, s)
}

// countFS counts how often the ledger is read.
type countFS struct {
	FS
	reads int
}

func (c *countFS) ReadFile(name string) ([]byte, error) {
	if name == ledgerFile {
		c.reads++
	}
	return c.FS.ReadFile(name)
}

// TestLedgerIsReadOnceWhileItStays: each look asks for its golden, and a ledger that nobody touches is not read again for
// that; one that was changed a moment ago is, since another change within the same tick of the clock would not show.
func TestLedgerIsReadOnceWhileItStays(t *testing.T) {
	folder := t.TempDir()
	other, err := Open(folder)
	if err != nil {
		t.Fatal(err)
	}
	approve(t, other, approval("w", "l", panel(1)))
	count := &countFS{FS: Dir(folder)}
	s := New(count, folder)
	ledger := filepath.Join(folder, ledgerFile)
	get := func(want int, why string) {
		t.Helper()
		count.reads = 0
		for range 5 {
			wantGolden(t, s, "w", "l", panel(want))
		}
		t.Logf("%s: read %d times", why, count.reads)
	}
	get(1, "changed just now")
	if count.reads != 5 {
		t.Errorf("a ledger that may still change is read %d times of 5", count.reads)
	}
	long := time.Now().Add(-time.Hour)
	age := func() {
		t.Helper()
		if err := os.Chtimes(ledger, long, long); err != nil {
			t.Fatal(err)
		}
	}
	age()
	get(1, "left alone for an hour")
	if count.reads != 1 {
		t.Errorf("a ledger that stays is read %d times", count.reads)
	}
	approve(t, other, approval("w", "l", panel(2)))
	age() // a new file of the same age is another file
	get(2, "replaced")
	if count.reads != 1 {
		t.Errorf("a ledger that was replaced is read %d times", count.reads)
	}
	raw, err := os.ReadFile(ledger)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(ledger, append(raw, "junk\n"...), 0o666); err != nil {
		t.Fatal(err)
	}
	age()
	if _, _, err := s.Get("panel", "w", "l"); !errors.Is(err, ErrLedger) {
		t.Errorf("a ledger that was written to in place: %v", err)
	}
}
