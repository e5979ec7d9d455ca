package golden

import (
	"strings"
	"testing"
)

// hookFS lets something happen just before a file is read for the first time.
type hookFS struct {
	*memFS
	suffix string
	hook   func()
}

func (h *hookFS) ReadFile(name string) ([]byte, error) {
	if f := h.hook; f != nil && strings.HasSuffix(name, h.suffix) {
		h.hook = nil
		f()
	}
	return h.memFS.ReadFile(name)
}

// An approval goes through while Get is between two files. The reader must not take that for damage.
func TestGetDuringApproval(t *testing.T) {
	t.Run("ledger read, then approved", func(t *testing.T) {
		m := newMemFS()
		approve(t, New(m, "golden"), approval("w", "l", panel(1)))
		s := New(&hookFS{m, ".png", func() { approve(t, New(m, "golden"), approval("w", "l", panel(2))) }}, "golden")
		wantGolden(t, s, "w", "l", panel(2))
	})
	t.Run("golden read, then put in place", func(t *testing.T) {
		m := newMemFS()
		approve(t, New(m, "golden"), approval("w", "l", panel(1)))
		renames := 0
		m.fail = func(_ int, call string) fault { // the ledger is renamed, the picture is not
			if call == "rename" {
				renames++
			}
			if renames > 1 {
				return fails
			}
			return works
		}
		if _, err := New(m, "golden").Approve([]Approval{approval("w", "l", panel(2))}); err == nil {
			t.Fatal("the picture's rename did not fail")
		}
		m.fail = nil
		s := New(&hookFS{m, "/l.png", nil}, "golden")
		wantGolden(t, s, "w", "l", panel(2)) // from the pending file
		hook := &hookFS{m, ".pending", nil}
		hook.hook = func() {
			if done, err := New(m, "golden").Repair(); err != nil || len(done) != 1 {
				t.Errorf("repair: %+v, %v", done, err)
			}
		}
		wantGolden(t, New(hook, "golden"), "w", "l", panel(2))
		if hook.hook != nil {
			t.Error("the pending file was never looked at")
		}
	})
}
