package main

import (
	"bytes"
	"image"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare/photo"
	"github.com/fascia-bench/fascia/suites/demo"
)

// TestOwnScreensAreTrials: a camera is tried on goldens of its panel's size, each a different one, and the same each time.
func TestOwnScreensAreTrials(t *testing.T) {
	dir := t.TempDir()
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	b, err := bench.Read(filepath.Join(dir, "bench.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	a := &app{stdout: &out, stderr: &out}
	own, again := a.ownScreens(b, image.Pt(320, 240)), a.ownScreens(b, image.Pt(320, 240))
	if len(own) != photo.Trials || len(again) != photo.Trials {
		t.Fatalf("%d and %d screens, %s", len(own), len(again), &out)
	}
	seen := map[string]bool{}
	for i, m := range own {
		hash := picture.Hash(m)
		if seen[hash] || hash != picture.Hash(again[i]) {
			t.Errorf("screen %d is drawn twice, or not the second time", i)
		}
		seen[hash] = true
	}
	if other := a.ownScreens(b, image.Pt(240, 320)); other != nil {
		t.Errorf("%d screens for a panel that stands upright", len(other))
	}
	ledger := filepath.Join(dir, "golden", "ledger.jsonl")
	if err := os.WriteFile(ledger, []byte("{\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	if own := a.ownScreens(b, image.Pt(320, 240)); own != nil || !strings.Contains(out.String(), "ledger.jsonl") {
		t.Errorf("a ledger that cannot be read: %d screens, %s", len(own), &out)
	}
	if err := os.RemoveAll(filepath.Dir(ledger)); err != nil {
		t.Fatal(err)
	}
	out.Reset()
	if own := a.ownScreens(b, image.Pt(320, 240)); own != nil || out.Len() > 0 {
		t.Errorf("no golden yet: %d screens, %s", len(own), &out)
	}
}
