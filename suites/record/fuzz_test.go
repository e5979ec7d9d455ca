package record

import (
	"os"
	"path/filepath"
	"testing"
	"time"
)

// FuzzLoad: any bytes are a record or an error; a record has an exit status, and is the same when it was saved
// and loaded again.
func FuzzLoad(f *testing.F) {
	dir := f.TempDir()
	file := filepath.Join(dir, File)
	run := &Run{Run: "r", Bench: "b", Target: "t", Started: time.Date(2031, 5, 4, 9, 30, 0, 0, time.UTC), Dir: "../..",
		Walks: []Walk{{Walk: "home", File: "walks/home.yaml", Looks: 1, Done: true}},
		Looks: []Look{{Walk: "home", Look: "mild", Verdict: Same, Path: []Input{{Says: "tap 1,2"}}, Capture: "home/mild.png"}}}
	if err := Save(file, run); err != nil {
		f.Fatal(err)
	}
	text, err := os.ReadFile(file)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(text)
	f.Add([]byte("{}"))
	f.Add([]byte(`{"looks": [{"verdict": "same", "finding": {"regions": [{"x": 1e9}]}}], "counts": null}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		if err := os.WriteFile(file, text, 0o666); err != nil {
			t.Fatal(err)
		}
		run, err := Load(dir)
		if err != nil {
			return
		}
		status := run.Exit()
		if status < 0 || status > 2 {
			t.Errorf("exit status %d", status)
		}
		if err := Save(file, run); err != nil {
			return // a time outside what JSON can say
		}
		again, err := Load(dir)
		if err != nil {
			t.Fatalf("saved, it cannot be read: %v", err)
		}
		if got := again.Exit(); got != status {
			t.Errorf("exit status %d, saved and read again %d", status, got)
		}
	})
}
