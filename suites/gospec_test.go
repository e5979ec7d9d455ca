package suites_test

import (
	"image"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/record"
)

// What a walk in YAML can do, a Go spec can: the steps and options that the example in demo/specs has no use for.
func TestGoSpecsCanDoWhatWalksCan(t *testing.T) {
	ctx := t.Context()
	dir := t.TempDir()
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	twin, err := demo.Twin()
	if err != nil {
		t.Fatal(err)
	}
	b, err := suites.OpenBench(ctx, filepath.Join(dir, demo.BenchFile), twin)
	if err != nil {
		t.Fatal(err)
	}
	do := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	expect := func(want record.Result) func(record.Expectation, error) {
		return func(e record.Expectation, err error) {
			t.Helper()
			if err != nil || e.Result != want {
				t.Errorf("%s: %s, %q, %v; want it %s", e.What, e.Result, e.Why, err, want)
			}
		}
	}
	gear := map[string]image.Rectangle{"gear": image.Rect(264, 200, 296, 232)}
	do(b.Walk(ctx, "by code", "start.yaml", gear))
	do(b.Exec(ctx, "bench-light-off"))
	expect(record.Met)(b.Lamp(ctx, "status", "#00c83c"))
	expect(record.Missed)(b.Lamp(ctx, "status", "off"))
	do(b.Hold(ctx, 280, 216, 800*time.Millisecond))
	expect(record.Met)(b.Log(ctx, "screen settings"))
	expect(record.Met)(b.Within(ctx, 5*time.Second))
	do(b.Key(ctx, "escape"))
	do(b.TapOn(ctx, "gear"))
	expect(record.Met)(b.Log(ctx, "screen settings"))
	l, err := b.Look(ctx, "settings", suites.Still(0, 0), suites.Ignore("gear", "it is not looked at"),
		suites.Allow(compare.Tolerance{SmallerThan: 3, Reason: "to be seen here"}), suites.Note("What can be set."))
	if err != nil || l.Verdict != record.Unapproved || len(l.Ignored) != 1 || l.Ignored[0].Area != "gear" || l.Note == "" {
		t.Errorf("%+v, %v", l, err)
	}
	for name, o := range map[string]suites.LookOption{
		"an area that is none":       suites.Ignore("cog", "there is none"),
		"no reason":                  suites.Ignore("gear", " "),
		"a tolerance without reason": suites.Allow(compare.Tolerance{SmallerThan: 3}),
	} {
		if _, err := b.Look(ctx, name, o); err == nil {
			t.Errorf("%s was taken", name)
		}
	}

	do(b.Walk(ctx, "pairing by code", "start.yaml", nil))
	do(b.Feed(ctx, "pairing-code", "2486"))
	do(b.Tap(ctx, 120, 216))
	do(b.Tap(ctx, 160, 166))
	do(b.Type(ctx, "2486"))
	do(b.Tap(ctx, 286, 214))
	expect(record.Met)(b.Log(ctx, "pair code right"))
	if err := b.Exec(ctx, "rm"); err == nil || !strings.Contains(err.Error(), "rm") {
		t.Errorf("a command that bench.yaml does not name: %v", err)
	}
	do(b.Close())
	if r := b.Record(); len(r.Walks) != 2 || r.Walks[0].Why != "" || r.Walks[1].Why == "" || r.Exit() != 2 {
		t.Errorf("walks %+v, exit %d", r.Walks, r.Exit())
	}
}
