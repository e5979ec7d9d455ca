package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/record"
)

// The same walk as YAML and as a Go spec gives equal records, but for times and for where it is written.
func TestGoSpecsGiveTheRecordOfTheWalk(t *testing.T) {
	dir := t.TempDir()
	specs := filepath.Join(dir, "specs")
	cmd := exec.Command("go", "test", "-count=1", "../../suites/demo/specs")
	cmd.Env = append(os.Environ(), "FASCIA_SPECS_RUN="+specs)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("the Go specs: %v\n%s", err, out)
	}
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	t.Setenv(asCommand, "1")
	var out, errs bytes.Buffer
	if status := run([]string{"run", "--bench", filepath.Join(dir, demo.BenchFile), "bed lamp"}, &out, &errs); status != exitOK {
		t.Fatalf("exit status %d\n%s%s", status, out.String(), errs.String())
	}
	_, page, _ := strings.Cut(out.String(), "report: ")
	var looks [2][]record.Look
	var expectations [2][]record.Expectation
	for i, d := range []string{specs, filepath.Dir(strings.TrimSpace(page))} {
		r, err := record.Load(d)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range r.Looks {
			l.Line = 0
			looks[i] = append(looks[i], l)
		}
		for _, e := range r.Expectations {
			e.Line = 0
			expectations[i] = append(expectations[i], e)
		}
	}
	if len(looks[0]) != 3 || !reflect.DeepEqual(looks[0], looks[1]) {
		t.Errorf("looks differ:\n%+v\n%+v", looks[0], looks[1])
	}
	if len(expectations[0]) != 3 || !reflect.DeepEqual(expectations[0], expectations[1]) {
		t.Errorf("expectations differ:\n%+v\n%+v", expectations[0], expectations[1])
	}
}
