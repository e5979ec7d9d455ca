package suites_test

import (
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/desktest"
	"github.com/fascia-bench/fascia/suites/record"
	"github.com/fascia-bench/fascia/suites/report"
)

// A run folder of 10 GB: each file that is too large is refused by its size, and the page is made of the rest.
func TestHugeRunFolder(t *testing.T) {
	dir := t.TempDir()
	runDir := desktest.Make(t, dir, 24)
	d, err := suites.OpenDesk(runDir, nil)
	if err != nil {
		t.Fatal(err)
	}
	l := d.Run.Looks[0]
	grow := func(name string) {
		t.Helper()
		if err := os.Truncate(filepath.Join(runDir, name), 10<<30); err != nil {
			t.Fatal(err)
		}
	}
	grow(l.Capture)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	if _, err := d.Picture(l.Capture, l.Pixels); err == nil || !strings.Contains(err.Error(), "is larger than") {
		t.Errorf("the desk says %v", err)
	}
	if err := report.Page(runDir, d.Run); err != nil {
		t.Errorf("no page: %v", err)
	}
	runtime.ReadMemStats(&after)
	if used := after.TotalAlloc - before.TotalAlloc; used > 64<<20 {
		t.Errorf("%d MB were taken for a picture that is refused", used>>20)
	}
	grow(record.File)
	if _, err := record.Load(runDir); err == nil || !strings.Contains(err.Error(), "run.json has 10737418240 bytes: no record has more than") {
		t.Errorf("a record of 10 GB: %v", err)
	}
	if _, err := record.Latest(filepath.Dir(runDir)); err == nil {
		t.Error("it is the newest run all the same")
	}
}
