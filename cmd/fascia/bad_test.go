package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/suites/demo"
)

// Bad walk and bench files: each is told with its place, its line, and what to write instead.
func TestBadFilesAreToldWithTheirPlace(t *testing.T) {
	const head = "walk: bad\nsteps:\n"
	walks := []struct{ text, want string }{
		{head + "  - tapp: [1, 2]\n", `3:5: unknown step "tapp": did you mean "tap"`},
		{head + "  - tap: [1]\n", "3:10: expected [x, y], found 1 number"},
		{head + "  - tap: here\n", `3:10: expected [x, y], found "here"`},
		{head + "  - tap: [999, 2]\n", "3:10: 999,2 lies off the panel"},
		{head + "  - wait: 3\n", "3:11: 3 of what? Write the unit: 3ms or 3s"},
		{head + "  - wait: a while\n", "3:11: expected a time such as 250ms"},
		{head + "  - clock: noon\n", "3:12: expected a time on the device's clock"},
		{head + "  - key: retrun\n", `3:10: unknown key "retrun"`},
		{head + "  - turn: 0\n", "3:11: turn by how many detents"},
		{head + "  - turn: lots\n", `3:11: expected a whole number, found "lots"`},
		{head + "  - look:\n", "3:5: look needs a value"},
		{head + "  - look: {settle: 1s}\n", "the look has no name"},
		{head + "  - look: \"!!!\"\n", "3:11: name \"!!!\" has no ASCII letter or digit"},
		{head + "  - look: {name: a, settle: {still: 3s, latest: 1s}}\n", "it cannot be still for 3s"},
		{head + "  - look: {name: a, ignore: {clock: x}}\n", `no area is called "clock" in this walk: there are none`},
		{head + "  - look: {name: a, allow: [{why: x}]}\n", "a tolerance is one of colour-below, smaller-than and edges-only"},
		{head + "  - look: {name: a, aside: {until: 1 June, why: x}}\n", "expected a day such as 2031-06-01"},
		{head + "  - drag: {from: [1, 2]}\n", "drag needs from: [x, y] and to: [x, y]"},
		{head + "  - tap: [1, 2]\n    wait: 1s\n", `4:5: one step, one dash: "wait" belongs on a line of its own`},
		{head + "  - feed: {sensors: [{a: b}]}\n", "expected a single value, found names with values"},
		{head + "  - feed: {pressure: 3}\n", `the device has no feed "pressure"`},
		{head + "  - type: \"\"\n", "type needs a text"},
		{head + "  - lamp: {status: dim}\n", "a lamp is on, off, a colour such as"},
		{head + "  - each: {steps: [reset]}\n", "each needs a name with values"},
		{head + "  - via: none.yaml\n", "there is no file"},
		{head + "  - exec: rm\n", `the bench has no command "rm"`},
		{head + "  - roll: 0\n", "roll by how many steps?"},
		{"walk: bad\n", "1:1: the walk has no steps"},
		{"steps: []\n", "1:1: the walk has no name"},
		{"walk: bad\nstep: []\n", `2:1: unknown name "step": did you mean "steps"`},
		{"walk: bad\nareas: {a: [1, 2, 0, 4]}\nsteps: []\n", `2:12: area "a" has no extent`},
		{"walk: bad\nareas: {a: [300, 2, 40, 4]}\nsteps: []\n", `2:12: area "a" reaches off the panel`},
		{"walk: bad\nfrom: nowhere.yaml\nsteps: []\n", "2:7: there is no walk"},
		{"walk: bad\nlabels: [a b, \"c && d\"]\nsteps: []\n", "2:15: label"},
	}
	dir := t.TempDir()
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	t.Setenv(asCommand, "1")
	for _, tt := range walks {
		for _, f := range mustGlob(t, filepath.Join(dir, "walks", "*")) {
			os.Remove(f)
		}
		if err := os.WriteFile(filepath.Join(dir, "walks", "bad.yaml"), []byte(tt.text), 0o666); err != nil {
			t.Fatal(err)
		}
		var out, errs bytes.Buffer
		status := run([]string{"run", "--bench", filepath.Join(dir, demo.BenchFile)}, &out, &errs)
		if status != exitNoVerdict || !strings.Contains(errs.String(), "bad.yaml:") || !strings.Contains(errs.String(), tt.want) {
			t.Errorf("%q: exit status %d\n%swant %s", tt.text, status, errs.String(), tt.want)
		}
	}
	if left := mustGlob(t, filepath.Join(dir, "runs", "*")); len(left) > 0 {
		t.Errorf("refused walks left runs behind: %v", left)
	}
}

func mustGlob(t *testing.T, pattern string) []string {
	t.Helper()
	files, err := filepath.Glob(pattern)
	if err != nil {
		t.Fatal(err)
	}
	return files
}
