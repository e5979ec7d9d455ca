package golden

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"
)

var later = time.Date(2031, 6, 1, 12, 0, 0, 0, time.UTC)

func inForce(t *testing.T, s *Store, look string) Entry {
	t.Helper()
	all, err := s.Goldens()
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range all {
		if e.Look == look {
			return e
		}
	}
	t.Fatalf("no golden of %q is in force", look)
	return Entry{}
}

// A withdrawn golden is gone from the folder and stays in the history; its look can be approved again.
func TestWithdraw(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	approve(t, s, approval("home", "old", panel(1)), approval("home", "kept", panel(2)))
	old := inForce(t, s, "old")
	for _, bad := range []struct {
		who, why string
		when     time.Time
	}{{"", "gone", later}, {"Ada", " ", later}, {"Ada", "gone", time.Time{}}} {
		if _, err := s.Withdraw([]Entry{old}, bad.who, bad.why, bad.when); !errors.Is(err, ErrApproval) {
			t.Errorf("withdrawn with %+v: %v", bad, err)
		}
	}
	lines, err := s.Withdraw([]Entry{old}, "Ada", "the walk is gone", later)
	if err != nil || len(lines) != 1 || lines[0].Prev != old.Hash || !lines[0].Withdrawn {
		t.Fatalf("withdraw: %+v, %v", lines, err)
	}
	if _, err := os.Stat(filepath.Join(dir, target, "home", "old.png")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the picture is still there: %v", err)
	}
	if _, _, err := s.Get(target, "home", "old"); !errors.Is(err, ErrNoGolden) {
		t.Errorf("get what was withdrawn: %v", err)
	}
	if log, err := s.Log(target, "home", "old"); err != nil || len(log) != 2 || log[1].Why != "the walk is gone" {
		t.Errorf("log: %+v, %v", log, err)
	}
	clean(t, s)
	if _, err := s.Withdraw([]Entry{old}, "Ada", "again", later); !errors.Is(err, ErrNoGolden) {
		t.Errorf("withdrawn twice: %v", err)
	}

	a := approval("home", "old", panel(3))
	a.Saw = NoGolden
	approve(t, s, a)
	if e := inForce(t, s, "old"); e.Prev != lines[0].Hash || e.Replaced != "" {
		t.Errorf("approved again: %+v", e)
	}
	if _, err := s.Withdraw([]Entry{old}, "Ada", "late", later); !errors.Is(err, ErrStale) {
		t.Errorf("a golden approved anew was withdrawn: %v", err)
	}
	clean(t, s)
}

// What a target withdraws it inherits again.
func TestWithdrawInherits(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	base := approval("home", "mild", panel(1))
	base.Target = "base"
	approve(t, s, base, approval("home", "mild", panel(2)))
	if err := os.WriteFile(filepath.Join(dir, target, "inherits"), []byte("base\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	all, _ := s.Goldens()
	for _, e := range all {
		if e.Target == target {
			if _, err := s.Withdraw([]Entry{e}, "Ada", "as the base has it", later); err != nil {
				t.Fatal(err)
			}
		}
	}
	_, e, err := s.Get(target, "home", "mild")
	if err != nil || e.Target != "base" {
		t.Errorf("get: of %q, %v", e.Target, err)
	}
	r, err := s.Read()
	if err != nil {
		t.Fatal(err)
	}
	if sha, _, err := r.Recorded(target, "home", "mild"); err != nil || sha != e.SHA256 {
		t.Errorf("recorded: %s, %v", sha, err)
	}
	clean(t, s)
}

// A withdrawal that stops at any step leaves all of the looks or none, clean after Repair.
func TestWithdrawStops(t *testing.T) {
	make := func() (*memFS, []Entry) {
		m := newMemFS()
		s := New(m, "golden")
		approve(t, s, approval("home", "one", panel(1)), approval("home", "two", panel(2)))
		all, err := s.Goldens()
		if err != nil {
			t.Fatal(err)
		}
		return m.afterCrash(keepAll), all
	}
	m, all := make()
	if _, err := New(m, "golden").Withdraw(all, "Ada", "gone", later); err != nil {
		t.Fatal(err)
	}
	total, finished := m.steps, 0
	for n := 1; n <= total; n++ {
		for i, keep := range []func(int) int{keepAll, keepNone, keepAny(uint64(n))} {
			when := fmt.Sprintf("stopped at step %d of %d, survivor %d", n, total, i)
			m, all := make()
			m.fail = func(step int, _ string) fault {
				if step >= n {
					return fails
				}
				return works
			}
			if _, err := New(m, "golden").Withdraw(all, "Ada", "gone", later); err == nil {
				t.Fatalf("%s: and no error", when)
			}
			s := New(m.afterCrash(keep), "golden")
			gone := 0
			for _, look := range []string{"one", "two"} {
				if _, _, err := s.Get(target, "home", look); errors.Is(err, ErrNoGolden) {
					gone++
				} else if err != nil {
					t.Fatalf("%s: %v", when, err)
				}
			}
			if gone == 1 {
				t.Fatalf("%s: one of two is withdrawn", when)
			}
			finished += gone
			if _, err := s.Repair(); err != nil {
				t.Fatalf("%s: %v", when, err)
			}
			if r, err := s.Check(); err != nil || !r.Clean() || r.Goldens != 2-gone {
				t.Fatalf("%s: after repair %+v, %v", when, r, err)
			}
		}
	}
	if finished == 0 {
		t.Error("no stopped withdrawal ever took effect, so the last steps were not tested")
	}
}

// Only pictures that are still orphans are discarded.
func TestDiscard(t *testing.T) {
	dir := t.TempDir()
	s := open(t, dir)
	approve(t, s, approval("home", "kept", panel(1)))
	stray := filepath.Join(dir, target, "home", "stray.png")
	src, err := os.ReadFile(filepath.Join(dir, target, "home", "kept.png"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(stray, src, 0o666); err != nil {
		t.Fatal(err)
	}
	r, err := s.Check()
	if err != nil || len(r.Problems) != 1 || r.Problems[0].Kind != Orphaned {
		t.Fatalf("check: %+v, %v", r, err)
	}
	also := Problem{Kind: Orphaned, File: s.at(target + "/home/kept.png")}
	done, err := s.Discard(append(r.Problems, also))
	if err != nil || len(done) != 1 || done[0] != r.Problems[0].File {
		t.Errorf("discarded %q, %v", done, err)
	}
	clean(t, s)
	if _, _, err := s.Get(target, "home", "kept"); err != nil {
		t.Errorf("a golden was discarded: %v", err)
	}
}
