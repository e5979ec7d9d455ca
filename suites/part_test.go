package suites

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/suites/demo"
)

// Parts are cut by the seconds that took.json names: what takes longer than all others together stands alone.
func TestPartsAreBalancedByRecordedTimes(t *testing.T) {
	dir := t.TempDir()
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	took := filepath.Join(dir, WalksDir, TimesFile)
	if err := os.WriteFile(took, []byte(`{"start": 1000}`), 0o666); err != nil {
		t.Fatal(err)
	}
	part := func(i int) ([]*Walk, error) {
		t.Helper()
		p, err := Prepare(filepath.Join(dir, demo.BenchFile), nil)
		if err != nil {
			t.Fatal(err)
		}
		all := len(p.Walks)
		err = p.Part(i, 2)
		if err == nil && len(p.Walks) == all {
			t.Errorf("part %d has all %d walks", i, all)
		}
		return p.Walks, err
	}
	alone := 0
	for i := 1; i <= 2; i++ {
		walks, err := part(i)
		if err != nil {
			t.Fatal(err)
		}
		if len(walks) == 1 && walks[0].Name == "start" {
			alone++
		}
	}
	if alone != 1 {
		t.Error("a walk of 1000 s shares its part with others")
	}
	if err := os.WriteFile(took, []byte(`{"start": "long"}`), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := part(1); err == nil || !strings.Contains(err.Error(), took) {
		t.Errorf("times that are none: %v, want the file named", err)
	}
}
