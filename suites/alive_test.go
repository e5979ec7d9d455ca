package suites_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/demo/firmware/faults"
	"github.com/fascia-bench/fascia/suites/record"
)

// TestADeviceThatDrawsNothing: the agent of a device answers while nothing draws, and its panel shows an old picture, which may well
// be the one that was approved.
func TestADeviceThatDrawsNothing(t *testing.T) {
	built, err := faults.New("demo/firmware", t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	// The walk that others start from ends at home; a look that no input led to is like the one before.
	open := func(fault string) *suites.Bench {
		t.Helper()
		wasm, err := built.Sound()
		if fault != "" {
			wasm, err = built.Plant(fault)
		}
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(dir, "numb.yaml")
		text := "bench: n\ntarget: fernhouse-320\ndevice: {link: \"twin:numb.wasm\"}\n"
		if err := errors.Join(os.WriteFile(filepath.Join(dir, "numb.wasm"), wasm, 0o666), os.WriteFile(file, []byte(text), 0o666)); err != nil {
			t.Fatal(err)
		}
		b, err := suites.OpenBench(t.Context(), file, nil)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	for _, tt := range []struct {
		name     string
		fault    string
		humidity string // fed before the second look
		why      string // of the walk's end
	}{
		{"sound, fed what it shows", "", "40", ""},
		{"sound, fed something else", "", "1", ""},
		{"numb, but not yet", "numb", "40", ""},
		{"numb", "numb", "1", "may be of an old picture: again, and again"},
	} {
		b := open(tt.fault)
		do := func(err error) {
			t.Helper()
			if err != nil {
				t.Fatalf("%s: %v", tt.name, err)
			}
		}
		do(b.Walk(t.Context(), "numb", "start.yaml", nil))
		do(b.Feed(t.Context(), "humidity", "40"))
		_, err := b.Look(t.Context(), "first")
		do(err)
		do(b.Feed(t.Context(), "humidity", tt.humidity))
		for _, name := range []string{"again", "and again"} {
			l, err := b.Look(t.Context(), name)
			do(err)
			if l.Verdict != record.Unapproved {
				t.Errorf("%s: %s", tt.name, l.Verdict)
			}
		}
		do(b.Close())
		end := b.Record().Walks[0]
		if (end.Why == "") != (tt.why == "") || !strings.Contains(end.Why, tt.why) {
			t.Errorf("%s: the walk ends with %q, want %q", tt.name, end.Why, tt.why)
		}
		if status := b.Record().Exit(); (status == 2) != (tt.why != "") {
			t.Errorf("%s: the run ends with %d", tt.name, status)
		}
	}
	b := open("numb-from-birth")
	defer b.Close()
	if err := b.Walk(t.Context(), "unborn", "", nil); err != nil {
		t.Fatal(err)
	}
	if l, err := b.Look(t.Context(), "first"); !errors.Is(err, suites.ErrNotDrawing) || l.Verdict != record.NoCapture || !strings.Contains(l.Why, "frame counter is 0") {
		t.Errorf("a device that never drew: %s, %v", l.Verdict, err)
	}
}
