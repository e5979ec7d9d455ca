package suites

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// seeds are the demo's files that fit a pattern.
func seeds(f *testing.F, pattern string) {
	f.Helper()
	files, err := filepath.Glob(filepath.Join("demo", pattern))
	if err != nil || len(files) == 0 {
		f.Fatalf("no file fits %s: %v", pattern, err)
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(string(text))
	}
}

// workshop is a bench's folder with one walk to start from.
func workshop(tb testing.TB) string {
	tb.Helper()
	dir := tb.TempDir()
	err := os.Mkdir(filepath.Join(dir, WalksDir), 0o777)
	for name, text := range map[string]string{
		"bench.yaml":       "bench: b\ntarget: t\ndevice: {link: \"twin:\"}\npanel: {width: 320, height: 240, format: rgb565}\ncommands: {call: \"true\"}\n",
		"walks/start.yaml": "walk: start\nsteps:\n  - look: home\n",
	} {
		err = errors.Join(err, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o666))
	}
	if err != nil {
		tb.Fatal(err)
	}
	return dir
}

// FuzzWalk: any text is a walk or an error that names its file; of a walk every step can be told and turned
// into events, and it stays inside the panel.
func FuzzWalk(f *testing.F) {
	seeds(f, "walks/*.yaml")
	for _, s := range stepTable {
		f.Add("walk: w\nsteps:\n  - " + s.step + "\n")
	}
	dir := workshop(f)
	f.Fuzz(func(t *testing.T, text string) {
		file := filepath.Join(dir, WalksDir, "fuzzed.yaml")
		if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
		p, err := Prepare(filepath.Join(dir, "bench.yaml"), nil)
		if err != nil {
			if !strings.Contains(err.Error(), dir) {
				t.Errorf("the error names no file: %v", err)
			}
			return
		}
		for _, w := range p.Walks {
			if w.Slug == "" || strings.ContainsAny(w.Slug, "/\\.") {
				t.Errorf("walk %q would be the folder %q", w.Name, w.Slug)
			}
			w.Estimate()
			for _, s := range w.Steps {
				if s.Do.Says().Says == "" {
					t.Errorf("step %T says nothing", s.Do)
				}
				events(s.Do)
			}
		}
	})
}

// FuzzBench: any text is a bench or an error that names its file.
func FuzzBench(f *testing.F) {
	seeds(f, "bench*.yaml")
	f.Add("bench: b\ntarget: t\ndevice:\n  link: serial:/dev/ttyUSB0\n  lines: {open: {dtr: off}, reset: rts}\n  power: {off: a, on: b}\n  expect: {build: c}\n  restarts: [panic]\nhands: hands.yaml\n")
	dir := workshop(f)
	f.Fuzz(func(t *testing.T, text string) {
		file := filepath.Join(dir, "fuzzed.yaml")
		if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
		if _, err := Prepare(file, nil); err != nil && !strings.Contains(err.Error(), dir) {
			t.Errorf("the error names no file: %v", err)
		}
	})
}

// FuzzHands: what hands do is read or refused.
func FuzzHands(f *testing.F) {
	seeds(f, "hands.yaml")
	dir := workshop(f)
	f.Fuzz(func(t *testing.T, text string) {
		file := filepath.Join(dir, "hands.yaml")
		if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
		r := &reader{root: dir}
		hands, err := r.readHands(file)
		for ask, list := range hands {
			if err == nil && len(list) == 0 {
				t.Errorf("asked to %q nothing is done", ask)
			}
		}
	})
}
