package main

import (
	"bytes"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/suites/between"
	"github.com/fascia-bench/fascia/suites/demo"
)

// onHome are the looks that show the home screen with its cards, or part of it.
var onHome = []string{"about / focus on settings", "alarm / acknowledged", "home / clock running", "home / frost", "home / mild", "home / no sensors",
	"languages / home in deutsch", "languages / home in français", "manual run / back home", "season reminder / later", "season reminder / switched", "service / after a restart", "start / home"}

// An upgrade is a change that draw-2 brings, and the looks that show it. The table of
// suites/demo/firmware/README.md says what was put in; which looks show which change was found by building
// the firmware six times, each time with one of the changes and draw-1 otherwise, and walking it.
type upgrade struct {
	cause, says string
	meant       bool
	looks       []string
}

var draw2 = []upgrade{
	{"missing", "Text is cut short at 206,112 (14x11), on one look.", false, []string{"languages / settings in deutsch"}},
	{"stale", "Rows that were not redrawn: what was there before is still there, on 12 looks.", false, []string{
		"about / focus on settings", "bed lamp / by knob", "bed lamp / full", "bed lamp / off", "home / frost", "home / no sensors", "manual run / back home",
		"manual run / fan on", "manual run / misting", "pairing / two digits", "schedule / focus by key", "sensors / three sensors"}},
	{"missing", "Content of #217594 is gone, on 2 looks.", false, []string{"day chart / a day in May", "day chart / a day of extremes"}},
	{"recoloured", "Colour #efaa39 became #f78a5a, on 17 looks.", true, []string{
		"alarm / acknowledged", "alarm / frost", "alarm / tank is low", "bed lamp / by knob", "bed lamp / full", "bed lamp / off", "home / frost", "home / no sensors",
		"manual run / fan on", "manual run / misting", "manual run / panel", "pairing / empty code", "pairing / found", "pairing / searching", "pairing / two digits",
		"pairing / wrong code", "season reminder / autumn"}},
	{"moved", "Button text 1 px lower, on 8 looks.", true, []string{
		"alarm / frost", "alarm / tank is low", "pairing / empty code", "pairing / found", "pairing / searching", "pairing / two digits", "pairing / wrong code",
		"season reminder / autumn"}},
	{"edges", "Corners, discs and lines drawn with other edges: anti-aliasing, on 28 looks.", true, append([]string{"by hand / home by hand",
		"alarm / frost", "alarm / tank is low", "bed lamp / by knob", "bed lamp / full", "bed lamp / off", "manual run / fan on", "manual run / misting", "manual run / panel",
		"pairing / empty code", "pairing / found", "pairing / searching", "pairing / two digits", "pairing / wrong code", "season reminder / autumn"}, onHome...)},
}

// The demo's upgrade comes out as the changes that were put in, with their looks, the defects first; and
// with the others approved just the defects are left.
func TestBetweenFindsWhatTheUpgradeBrought(t *testing.T) {
	dir := t.TempDir()
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	t.Setenv(asCommand, "1")
	var runs [2]string
	for i, bench := range []string{demo.BenchFile, demo.UpgradeFile} {
		var out, errs bytes.Buffer
		if status := run([]string{"run", "--bench", filepath.Join(dir, bench)}, &out, &errs); status != i { // 0, and 1: it differs
			t.Fatalf("%s: exit status %d\n%s%s", bench, status, out.String(), errs.String())
		}
		_, page, _ := strings.Cut(out.String(), "report: ")
		page, _, _ = strings.Cut(page, "\n")
		runs[i] = filepath.Dir(page)
	}
	// The run alone against its goldens, too: they are the same pictures.
	for _, sides := range [][2]string{{runs[0], runs[1]}, {runs[1], ""}, {filepath.Join(dir, "golden"), runs[1]}} {
		t.Run(filepath.Base(sides[0])+" "+filepath.Base(sides[1]), func(t *testing.T) {
			p, err := between.Open(sides[0], sides[1])
			if err != nil {
				t.Fatal(err)
			}
			r, err := p.Compare()
			if err != nil {
				t.Fatal(err)
			}
			holdUpgrade(t, r)
		})
	}
}

func holdUpgrade(t *testing.T, r *between.Report) {
	var meant []int
	defects := map[string]bool{}
	all := r.All()
	if len(all) != len(draw2) {
		t.Errorf("%d changes, want %d", len(all), len(draw2))
	}
	for i, g := range all {
		if i >= len(draw2) {
			t.Errorf("one more: %s", g.Says)
			continue
		}
		want := draw2[i]
		var looks []string
		for _, l := range g.Looks {
			looks = append(looks, l.Walk+" / "+l.Look)
		}
		slices.Sort(looks)
		slices.Sort(want.looks)
		if g.Cause != want.cause || g.Says != want.says || !slices.Equal(looks, want.looks) {
			t.Errorf("change %d: %s %q on %q\nwant %s %q on %q", g.Rank, g.Cause, g.Says, looks, want.cause, want.says, want.looks)
		}
		if want.meant {
			meant = append(meant, g.Rank)
			continue
		}
		for _, l := range want.looks {
			defects[l] = true
		}
	}
	if r.Same != 17 || r.Differ() != 33 {
		t.Errorf("%d looks same and %d differ, want 17 and 33", r.Same, r.Differ())
	}

	left, err := r.Left(meant...)
	if err != nil {
		t.Fatal(err)
	}
	for i, res := range left {
		n := r.Look(i)
		name := n.Walk + " / " + n.Look
		if !defects[name] {
			t.Errorf("%s: left with what was meant approved: %+v", name, res.Regions)
		}
		delete(defects, name)
		for _, reg := range res.Regions { // rows that were not redrawn are thin; the others lie where they were put in
			thin := reg.H <= 2
			chart := strings.HasPrefix(name, "day chart / ")
			if !thin && !chart && name != "languages / settings in deutsch" {
				t.Errorf("%s: left is %s at %v", name, reg.Cause, reg.Rect())
			}
		}
	}
	for name := range defects {
		t.Errorf("%s: nothing left of its defect", name)
	}
	if left, err := r.Left(1, 2, 3, 4, 5, 6); err != nil || len(left) != 0 {
		t.Errorf("with all approved %d looks are left over, error %v", len(left), err)
	}
}
