package record

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func TestExit(t *testing.T) {
	ended := time.Date(2031, 5, 4, 9, 30, 0, 0, time.UTC)
	looks := func(vs ...Verdict) []Look {
		var list []Look
		for _, v := range vs {
			list = append(list, Look{Verdict: v})
		}
		return list
	}
	tests := []struct {
		name, why string
		run       Run
		want      int
	}{
		{"same", "all is as approved", Run{Ended: ended, Looks: looks(Same, Same)}, 0},
		{"nothing", "what nobody looked at is not shown to be right", Run{Ended: ended}, 2},
		{"differs", "a difference fails the run", Run{Ended: ended, Looks: looks(Same, Differs)}, 1},
		{"unapproved", "a missing golden must not pass", Run{Ended: ended, Looks: looks(Unapproved)}, 1},
		{"no-capture", "no picture, no verdict", Run{Ended: ended, Looks: looks(Same, NoCapture)}, 2},
		{"not-reached", "what was not seen is not the same", Run{Ended: ended, Looks: looks(Same, NotReached)}, 2},
		{"both", "no verdict weighs more than a difference", Run{Ended: ended, Looks: looks(Differs, NoCapture)}, 2},
		{"both, other order", "whichever comes first", Run{Ended: ended, Looks: looks(NoCapture, Differs)}, 2},
		{"met", "an expectation that is met is fine", Run{Ended: ended, Expectations: []Expectation{{Result: Met}}}, 0},
		{"missed", "one that is missed fails the run", Run{Ended: ended, Looks: looks(Same), Expectations: []Expectation{{Result: Missed}}}, 1},
		{"broken off", "after its last look a walk broke off", Run{Ended: ended, Looks: looks(Same), Walks: []Walk{{Why: "the device restarted"}}}, 2},
		{"refused", "the run as a whole came to nothing", Run{Ended: ended, Why: "no device"}, 2},
		{"cut off", "a run that never ended has no verdict", Run{Looks: looks(Same)}, 2},
		{"unknown", "a verdict that is not known is none", Run{Ended: ended, Looks: looks("fine")}, 2},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := tt.run.Exit(); got != tt.want {
				t.Errorf("Exit = %d, want %d: %s", got, tt.want, tt.why)
			}
		})
	}
}

func TestSaveAndLoad(t *testing.T) {
	dir := t.TempDir()
	run := &Run{Run: "a", Started: time.Date(2031, 5, 4, 9, 30, 0, 0, time.UTC), Looks: []Look{{Walk: "home", Look: "mild", Verdict: Differs}}}
	j := NewJournal(dir, run)
	if err := j.Save(); err != nil {
		t.Fatal(err)
	}
	got, err := Load(dir)
	if err != nil {
		t.Fatal(err)
	}
	if got.Counts["differs"] != 1 || got.Counts["met"] != 0 || len(got.Counts) != len(Verdicts)+2 {
		t.Errorf("counts = %v: every verdict and result is counted, also at nought", got.Counts)
	}
	if left, _ := filepath.Glob(filepath.Join(dir, ".run-*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// A slow disk does not hold a run up: while it goes on, its record is written only as often as that takes a twentieth of the
// time; at a walk's end it is written however slow that is.
func TestASlowDiskIsWrittenToLess(t *testing.T) {
	dir := t.TempDir()
	run := &Run{Run: "a", Started: time.Date(2031, 5, 4, 9, 30, 0, 0, time.UTC)}
	j := NewJournal(dir, run)
	note := func(must bool) (looks int) {
		t.Helper()
		run.Looks = append(run.Looks, Look{Walk: "home", Look: "mild", Verdict: Same})
		if err := j.Note(must); err != nil {
			t.Fatal(err)
		}
		got, err := Load(dir)
		if err != nil {
			t.Fatal(err)
		}
		return len(got.Looks)
	}
	if n := note(false); n != 1 {
		t.Errorf("the first look: the record has %d", n)
	}
	j.cost = time.Hour // as if writing had taken as long
	if n := note(false); n != 1 {
		t.Errorf("on a disk that takes an hour: the record has %d looks", n)
	}
	if n := note(true); n != 3 {
		t.Errorf("at the walk's end the record has %d looks", n)
	}
	j.cost, j.last = time.Hour, j.last.Add(-21*time.Hour)
	if n := note(false); n != 4 {
		t.Errorf("after twenty times as long the record has %d looks", n)
	}
}

func TestLoadSaysWhatIsWrong(t *testing.T) {
	dir := t.TempDir()
	if _, err := Load(dir); err == nil || !strings.Contains(err.Error(), "holds no run") {
		t.Errorf("empty folder: %v", err)
	}
	file := filepath.Join(dir, File)
	if err := os.WriteFile(file, []byte("{\n \"run\": \"a\",\n oops\n}"), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := Load(dir); err == nil || !strings.Contains(err.Error(), File+":3:") {
		t.Errorf("broken record: %v, want the line", err)
	}
}

func TestLatestGoesByTheRecord(t *testing.T) {
	runs := t.TempDir()
	for name, hour := range map[string]int{"a": 12, "z": 9, "no-run": -1} {
		dir := filepath.Join(runs, name)
		if err := os.Mkdir(dir, 0o777); err != nil {
			t.Fatal(err)
		}
		if hour < 0 {
			continue
		}
		if err := Save(filepath.Join(dir, File), &Run{Run: name, Started: time.Date(2031, 5, 4, hour, 0, 0, 0, time.UTC)}); err != nil {
			t.Fatal(err)
		}
	}
	got, err := Latest(runs)
	if err != nil || filepath.Base(got) != "a" {
		t.Errorf("Latest = %q, %v: the newest by its record is a, whatever the names", got, err)
	}
	if _, err := Latest(filepath.Join(runs, "none")); err == nil {
		t.Error("a folder without runs has a latest one")
	}
}
