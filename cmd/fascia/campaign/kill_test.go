package campaign

import (
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/cmd/fascia/internal/built"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/record"
)

// A run that is killed at any moment leaves a record that can be read and that tells of no look
// which has no picture.
func TestKilledRunLeavesItsRecord(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	looks := 0
	for range 6 {
		dir := scratch(t)
		if err := demo.Unpack(dir); err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(built.Path, "run", "--bench", filepath.Join(dir, demo.BenchFile))
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		var records []string
		for begin := time.Now(); len(records) == 0 && time.Since(begin) < 30*time.Second; time.Sleep(5 * time.Millisecond) {
			records, _ = filepath.Glob(filepath.Join(dir, "runs", "*", record.File))
		}
		time.Sleep(time.Duration(rng.IntN(1500)) * time.Millisecond)
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		_ = cmd.Wait()
		if len(records) != 1 {
			t.Fatalf("%d records in 30 s", len(records))
		}
		run, err := record.Load(filepath.Dir(records[0]))
		if err != nil {
			t.Fatalf("after a kill: %v", err)
		}
		for _, l := range run.Looks {
			if _, err := os.Stat(filepath.Join(filepath.Dir(records[0]), l.Capture)); l.Capture == "" || err != nil {
				t.Errorf("look %s/%s is recorded as %s without its picture: %v", l.Walk, l.Look, l.Verdict, err)
			}
		}
		if !run.Ended.IsZero() && run.Exit() != built.OK {
			t.Errorf("the run ended before it was killed, with %d", run.Exit())
		}
		if run.Ended.IsZero() && run.Exit() != built.NoVerdict {
			t.Errorf("a run cut off has exit status %d", run.Exit())
		}
		looks += len(run.Looks)
	}
	if looks == 0 {
		t.Error("no run got as far as a look: the test saw nothing")
	}
	t.Logf("%d looks recorded in 6 killed runs", looks)
}
