package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/creack/pty"

	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/record"
)

// The live line says how far the run is, what it found and how long it may take yet, and never wraps.
func TestLiveLine(t *testing.T) {
	now := time.Date(2031, 5, 4, 9, 30, 0, 0, time.UTC)
	run := &record.Run{Walks: []record.Walk{{Walk: "start", Done: true}, {Walk: "home"}, {Walk: "alarm"}}}
	s := &show{all: 44, seen: 3, walk: "home", look: "mild", verdicts: map[record.Verdict]int{record.Same: 2, record.Differs: 1},
		history: map[string]float64{"home": 10, "alarm": 5}, began: map[string]time.Time{"home": now.Add(-4 * time.Second)}}
	if got, want := s.line(run, now), "  3 of 44 looks · 1 differs · home / mild · about 11s left"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if got := s.line(run, now.Add(time.Minute)); !strings.HasSuffix(got, "about 5s left") {
		t.Errorf("a walk that takes longer than before counts against the others: %q", got)
	}
	delete(s.history, "alarm")
	if got := s.line(run, now); strings.Contains(got, "left") {
		t.Errorf("time left is told without a history: %q", got)
	}
	s.look = strings.Repeat("ä", 200)
	if n := len([]rune(s.line(run, now))); n != lineMost {
		t.Errorf("a line of %d characters", n)
	}
}

// On a terminal the view keeps up; Ctrl-C, as the terminal sends it, ends the run cleanly, and it can be taken up.
func TestInterruptedOnATerminal(t *testing.T) {
	dir := t.TempDir()
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(self, "run", "--bench", filepath.Join(dir, demo.BenchFile), "--again", "200")
	cmd.Env = append(os.Environ(), asCommand+"=1")
	terminal, err := pty.Start(cmd)
	if err != nil {
		t.Fatal(err)
	}
	defer terminal.Close()
	var out bytes.Buffer
	part := make([]byte, 4096)
	pressed := false
	for {
		n, err := terminal.Read(part)
		out.Write(part[:n])
		if !pressed && strings.Contains(out.String(), "  5 of ") {
			pressed = true
			if _, err := terminal.Write([]byte{3}); err != nil { // Ctrl-C
				t.Fatal(err)
			}
		}
		if err != nil {
			break // the other end is closed
		}
	}
	_ = cmd.Wait()
	text := out.String()
	if got := cmd.ProcessState.ExitCode(); got != exitNoVerdict {
		t.Errorf("exit status %d, want %d\n%s", got, exitNoVerdict, text)
	}
	for _, want := range []string{"\r\x1b[K  5 of ", "the run was interrupted", "are kept in " + dir, "fascia run --resume " + dir} {
		if !strings.Contains(text, want) {
			t.Errorf("it does not say %q:\n%s", want, text)
		}
	}
	runs, err := filepath.Glob(filepath.Join(dir, "runs", "*"))
	if err != nil || len(runs) != 1 {
		t.Fatalf("runs %v, %v", runs, err)
	}
	r, err := record.Load(runs[0])
	if err != nil || r.Why != "the run was interrupted" || len(r.Looks) < 5 {
		t.Errorf("the record: %v, %d looks, %v", r.Why, len(r.Looks), err)
	}
	for _, page := range []string{"report.html", "junit.xml", "summary.md"} {
		if _, err := os.Stat(filepath.Join(runs[0], page)); err != nil {
			t.Errorf("an interrupted run has no %s", page)
		}
	}
}
