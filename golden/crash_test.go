package golden

import (
	"errors"
	"fmt"
	"image"
	"testing"

	"github.com/fascia-bench/fascia/capture/picture"
)

// batch is an approval of 20 looks: 12 that have a golden and 8 new ones, in three walks and a new one,
// and of two regions of another look.
func batch() []Approval {
	var out []Approval
	for i := range 20 {
		walks := 3
		if i >= 12 {
			walks = 4
		}
		out = append(out, approval(fmt.Sprintf("walk %d", i%walks), fmt.Sprintf("look %d", i), panel(100+i)))
	}
	for x := range 2 {
		a := approval("walk 0", "in parts", dot(dot(panel(7), 1, 0), 2, 2))
		r := image.Rect(x+1, 2*x, x+2, 2*x+1)
		a.Region = &r
		out = append(out, a)
	}
	return out
}

// before returns a function that makes a folder with the goldens that batch replaces.
func before(t *testing.T) func() *memFS {
	t.Helper()
	m := newMemFS()
	var as []Approval
	for i := range 12 {
		as = append(as, approval(fmt.Sprintf("walk %d", i%3), fmt.Sprintf("look %d", i), panel(i)))
	}
	as = append(as, approval("walk 0", "in parts", panel(7)))
	if _, err := New(m, "golden").Approve(as); err != nil {
		t.Fatal(err)
	}
	return func() *memFS { return m.afterCrash(keepAll) }
}

// state tells for every look of the batch whether its old or its new golden is in force. Anything else,
// or some old and some new, is a failure: a call takes effect as one.
func state(t *testing.T, m *memFS, when string) (isNew bool) {
	t.Helper()
	s := New(m, "golden")
	count := 0
	for i, a := range batch() {
		img, _, err := s.Get(a.Target, a.Walk, a.Look)
		switch {
		case a.Region != nil:
			regions, rerr := s.Approved(a.Target, a.Walk, a.Look)
			if err != nil || rerr != nil || picture.Hash(img) != picture.Hash(panel(7)) {
				t.Fatalf("%s: the look approved in parts lost its golden: %v, %v", when, err, rerr)
			}
			if len(regions) == 2 {
				count++
			} else if len(regions) != 0 {
				t.Fatalf("%s: %d regions approved, want none or both", when, len(regions))
			}
		case err == nil && picture.Hash(img) == picture.Hash(a.Picture):
			count++
		case err == nil && i < 12 && picture.Hash(img) == picture.Hash(panel(i)):
		case i >= 12 && errors.Is(err, ErrNoGolden):
		default:
			t.Fatalf("%s: look %d has neither its old nor its new golden: %v", when, i, err)
		}
	}
	if count != 0 && count != len(batch()) {
		t.Fatalf("%s: %d of %d approvals took effect", when, count, len(batch()))
	}
	return count > 0
}

// settle asserts that only leftovers remain, that Repair removes them and that this changes no golden.
func settle(t *testing.T, m *memFS, when string) (isNew bool) {
	t.Helper()
	was := state(t, m, when)
	s := New(m, "golden")
	r, err := s.Check()
	if err != nil {
		t.Fatalf("%s: check: %v", when, err)
	}
	for _, p := range r.Problems {
		if p.Kind != Leftover {
			t.Fatalf("%s: check finds more than leftovers: %+v", when, p)
		}
	}
	done, err := s.Repair()
	if err != nil || len(done) != len(r.Problems) {
		t.Fatalf("%s: repair settled %d of %d problems, %v", when, len(done), len(r.Problems), err)
	}
	if r, err := s.Check(); err != nil || !r.Clean() {
		t.Fatalf("%s: after repair: %+v, %v", when, r.Problems, err)
	}
	if state(t, m, when+", repaired") != was {
		t.Fatalf("%s: repair exchanged goldens", when)
	}
	return was
}

// again asserts that an approval that took no effect can be made again, on top of its leftovers.
func again(t *testing.T, m *memFS, when string) {
	t.Helper()
	s := New(m, "golden")
	if _, err := s.Approve(batch()); err != nil {
		t.Fatalf("%s: approving again: %v", when, err)
	}
	if r, err := s.Check(); err != nil || !r.Clean() || !state(t, m, when+", again") {
		t.Fatalf("%s: approved again: %+v, %v", when, r.Problems, err)
	}
}

// countSteps returns how many writing calls an approval of the batch makes, and on which kinds.
func countSteps(t *testing.T) (int, map[string]int) {
	t.Helper()
	m, kinds := before(t)(), map[string]int{}
	m.fail = func(_ int, call string) fault { kinds[call]++; return works }
	if _, err := New(m, "golden").Approve(batch()); err != nil {
		t.Fatal(err)
	}
	for _, k := range []string{"create", "write", "sync", "close", "rename", "syncdir"} {
		if kinds[k] == 0 {
			t.Fatalf("an approval makes no %s: %v", k, kinds)
		}
	}
	return m.steps, kinds
}

// The machine stops at every single write, sync and rename, and keeps all, none or any part of what was
// not synced.
func TestStopAtEveryStep(t *testing.T) {
	total, kinds := countSteps(t)
	t.Logf("%d steps: %v", total, kinds)
	effective, fresh := 0, before(t)
	for n := 1; n <= total+1; n++ {
		m := fresh()
		m.fail = func(step int, _ string) fault {
			if step >= n {
				return fails
			}
			return works
		}
		_, err := New(m, "golden").Approve(batch())
		if n == total+1 && err != nil {
			t.Fatalf("nothing failed, and still: %v", err)
		}
		keeps := []func(int) int{keepAll, keepNone}
		for seed := range uint64(3) {
			keeps = append(keeps, keepAny(seed*1000+uint64(n)))
		}
		for i, keep := range keeps {
			when := fmt.Sprintf("stopped at step %d of %d, survivor %d", n, total, i)
			left := m.afterCrash(keep)
			if n%5 == i%5 && !state(t, left, when) {
				again(t, left.afterCrash(keepAll), when)
			}
			if err == nil {
				clean(t, New(left, "golden"))
			}
			isNew := settle(t, left, when)
			if err == nil && !isNew {
				t.Fatalf("%s: the approval was reported done and is lost", when)
			}
			if isNew {
				effective++
			}
		}
	}
	if effective == 0 {
		t.Error("no stopped approval ever took effect, so the last steps were not tested")
	}
}

// Every single call fails, with and without effect, and the program goes on.
func TestFailAtEveryStep(t *testing.T) {
	total, _ := countSteps(t)
	fresh := before(t)
	for _, how := range []fault{fails, lies} {
		for n := 1; n <= total; n++ {
			when := fmt.Sprintf("call %d of %d failed (%d)", n, total, how)
			m := fresh()
			m.fail = func(step int, _ string) fault {
				if step == n {
					return how
				}
				return works
			}
			_, err := New(m, "golden").Approve(batch())
			m.fail = nil
			isNew := state(t, m, when)
			switch {
			case errors.Is(err, ErrUnfinished) != (err != nil && isNew):
				t.Fatalf("%s: error %v, and the new goldens are in force: %v", when, err, isNew)
			case err == nil && !isNew:
				t.Fatalf("%s: reported done and not in force", when)
			}
			if r, cerr := New(m, "golden").Check(); err != nil && !isNew && (cerr != nil || !r.Clean()) {
				t.Fatalf("%s: a failed approval left something behind: %+v, %v", when, r.Problems, cerr)
			}
			if !settle(t, m, when) && n%4 == 0 {
				again(t, m, when)
			}
		}
	}
}

// The disk is full from some moment on: nothing can be written any more, but renamed and removed.
func TestDiskFull(t *testing.T) {
	total, _ := countSteps(t)
	fresh := before(t)
	for n := 1; n <= total; n++ {
		when := fmt.Sprintf("disk full at step %d", n)
		m := fresh()
		m.fail = func(step int, call string) fault {
			if step >= n && (call == "write" || call == "create" || call == "mkdir") {
				return fails
			}
			return works
		}
		if _, err := New(m, "golden").Approve(batch()); err == nil != state(t, m, when) {
			t.Fatalf("%s: %v, and the new goldens are in force: %v", when, err, state(t, m, when))
		}
		m.fail = nil
		if r, err := New(m, "golden").Check(); err != nil || !r.Clean() {
			t.Fatalf("%s: %+v, %v", when, r.Problems, err)
		}
	}
}
