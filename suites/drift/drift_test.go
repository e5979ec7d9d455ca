package drift

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/suites/record"
)

// A history is made of runs of a walk with two looks.
type history struct {
	t    *testing.T
	dir  string
	n    int
	rand *rand.Rand
}

func newHistory(t *testing.T) *history {
	return &history{t: t, dir: t.TempDir(), rand: rand.New(rand.NewPCG(31, 5))}
}

// run adds a run; edit may change it.
func (h *history) run(build string, edit func(*record.Run)) {
	h.t.Helper()
	started := time.Date(2031, 5, 4, 9, 30, 0, 0, time.UTC).Add(time.Duration(h.n) * time.Hour)
	h.n++
	noise := func(v float64) float64 { return v * (1 + 0.01*h.rand.NormFloat64()) }
	look := func(name string, settle float64) record.Look {
		return record.Look{Walk: "home", Look: name, Verdict: record.Same, Settle: noise(settle), Wire: 50,
			Gauges: map[string]int64{"heap": 12000}}
	}
	r := &record.Run{Run: fmt.Sprintf("r%03d", h.n), Bench: "green-1", Target: "fernhouse-320", Started: started, Ended: started.Add(time.Minute),
		Device: record.Device{Build: build},
		Walks:  []record.Walk{{Walk: "home", Hash: "one", Looks: 2, Boot: noise(0.6)}},
		Looks:  []record.Look{look("mild", 0.2), look("frost", 0.3)}}
	if edit != nil {
		edit(r)
	}
	folder := filepath.Join(h.dir, r.Run)
	if err := errors.Join(os.Mkdir(folder, 0o777), record.Save(filepath.Join(folder, record.File), r)); err != nil {
		h.t.Fatal(err)
	}
}

func (h *history) find(opt Options) *Group {
	h.t.Helper()
	if opt.Rate == 0 {
		opt.Rate = DefaultRate
	}
	groups, skipped, err := Find(h.dir, opt)
	if err != nil || len(skipped) > 0 || len(groups) != 1 {
		h.t.Fatalf("%d groups, skipped %v, %v", len(groups), skipped, err)
	}
	return groups[0]
}

// told lists what is found, a line a change.
func told(list []*Series) string {
	var b strings.Builder
	for _, s := range list {
		for _, c := range s.Changes {
			fmt.Fprintf(&b, "%s [run %d, p %.3g, in all %.3g]\n", s.Says(c), c.At, c.P, s.P)
		}
	}
	return b.String()
}

func slower(r *record.Run) { r.Looks[1].Settle *= 1.3 }

func TestSlowerSettleIsFoundAtItsBuild(t *testing.T) {
	h := newHistory(t)
	for range 6 {
		h.run("a", nil)
	}
	for range 6 {
		h.run("b", slower)
	}
	g := h.find(Options{Least: DefaultLeast})
	drifted := g.Drifted()
	if len(drifted) != 1 || len(drifted[0].Changes) != 1 {
		t.Fatalf("%d figures drifted, want the settle time of frost alone: %+v", len(drifted), drifted)
	}
	s, c := drifted[0], drifted[0].Changes[0]
	if s.Kind != Settle || s.Look != "frost" || c.Build != "b" || c.Previous != "a" || c.RunsBefore != 6 || c.RunsAfter != 6 {
		t.Errorf("found %+v in %s", c, s.Name())
	}
	if c.P != 2.0/924 { // complete separation: 2/C(12,6)
		t.Errorf("p = %v, want 2/924", c.P)
	}
	if says := s.Says(c); !strings.HasPrefix(says, "settle time of home / frost: ") || !strings.Contains(says, "since build b (") {
		t.Errorf("it says %q", says)
	}
	// 3 figures moved (two settle times, boot time); bytes and heap did not, and do not count among the many.
	if g.Figures != 7 || g.Moved != 3 || g.Tested != 3 {
		t.Errorf("%d figures, %d moved, %d tested; want 7, 3, 3", g.Figures, g.Moved, g.Tested)
	}
}

// With a build a run no two runs share a build, and the place is found all the same.
func TestEveryRunAnotherBuild(t *testing.T) {
	h := newHistory(t)
	for i := range 30 {
		edit := slower
		if i < 17 {
			edit = nil
		}
		h.run(fmt.Sprint("build-", i), edit)
	}
	drifted := h.find(Options{Least: DefaultLeast}).Drifted()
	if len(drifted) != 1 || len(drifted[0].Changes) != 1 || drifted[0].Changes[0].Build != "build-17" {
		t.Fatalf("found %swant one change at build-17", told(drifted))
	}
}

func TestTwoChangesInOneFigure(t *testing.T) {
	h := newHistory(t)
	for i, build := range []string{"a", "b", "c"} {
		for range 8 {
			h.run(build, func(r *record.Run) { r.Walks[0].Boot *= []float64{1, 1.5, 1.2}[i] })
		}
	}
	drifted := h.find(Options{Least: DefaultLeast}).Drifted()
	if len(drifted) != 1 || drifted[0].Kind != Boot || len(drifted[0].Changes) != 2 {
		t.Fatalf("found %swant two changes of boot time", told(drifted))
	}
	first, second := drifted[0].Changes[0], drifted[0].Changes[1]
	if first.Build != "b" || second.Build != "c" || math.Abs(first.Relative()-0.5) > 0.05 || math.Abs(second.Relative()+0.2) > 0.05 {
		t.Errorf("changes %+v and %+v; want +50 %% at b and -20 %% at c", first, second)
	}
}

func TestOneBuildThatChangesBlamesNoBuild(t *testing.T) {
	h := newHistory(t)
	for i := range 20 {
		h.run("a", func(r *record.Run) {
			if i >= 10 {
				r.Looks[0].Wire = 90 // a line that became bad
			}
		})
	}
	drifted := h.find(Options{Least: DefaultLeast}).Drifted()
	if len(drifted) != 1 || drifted[0].Kind != Wire {
		t.Fatalf("found %+v, want the bytes", drifted)
	}
	if says := drifted[0].Says(drifted[0].Changes[0]); !strings.Contains(says, "since run r011, with the same build a before and after") {
		t.Errorf("it says %q", says)
	}
}

// Nothing changes, 60 figures, 200 histories: at most about 5 % may raise an alarm. The bound is the
// upper end of what a rate of 5 % gives by chance in 200 (binomial, 99.9 %: 20).
func TestFalseAlarmsAreRare(t *testing.T) {
	r := rand.New(rand.NewPCG(95, 57))
	alarms := 0
	const histories = 200
	for range histories {
		g := &Group{}
		for range 60 {
			s := &Series{Kind: Settle, Walk: "w", Look: "l"}
			for i := range 20 {
				s.Seen = append(s.Seen, Point{Build: fmt.Sprint(i / 5), Value: math.Exp(r.NormFloat64())})
			}
			g.Series = append(g.Series, s)
		}
		g.judge(Options{Rate: DefaultRate})
		if len(g.Drifted()) > 0 {
			alarms++
		}
	}
	t.Logf("%d of %d quiet histories of 60 figures raised an alarm", alarms, histories)
	if alarms > 20 {
		t.Errorf("%d of %d quiet histories raised an alarm", alarms, histories)
	}
}

func TestWhatDoesNotCount(t *testing.T) {
	h := newHistory(t)
	for range 6 {
		h.run("a", nil)
	}
	for range 6 {
		h.run("b", func(r *record.Run) { // a look that differs has to be sent: slower, and no drift
			slower(r)
			r.Looks[1].Verdict = record.Differs
		})
	}
	if g := h.find(Options{Least: DefaultLeast}); len(g.Drifted()) != 0 {
		t.Errorf("a look that differs counted: %s", g.Drifted()[0].Name())
	}

	h = newHistory(t)
	for range 6 {
		h.run("a", slower)
	}
	h.run("a", func(r *record.Run) { r.Ended = time.Time{} })
	for range 6 {
		h.run("b", func(r *record.Run) { r.Walks[0].Hash = "two" })
	}
	g := h.find(Options{Least: DefaultLeast})
	if len(g.Drifted()) != 0 {
		t.Errorf("another walk of that name counted: %s", g.Drifted()[0].Name())
	}
	want := "1 that broke off is not counted; walk home was changed: 6 of its runs before that are not counted"
	if got := strings.Join(g.Notes, "; "); got != want {
		t.Errorf("notes %q, want %q", got, want)
	}

	h = newHistory(t)
	for range 8 {
		h.run("a", nil)
	}
	for range 8 {
		h.run("b", func(r *record.Run) { r.Looks[0].Gauges["heap"] = 12100 }) // surely, but by 0.8 %
	}
	if g := h.find(Options{Least: DefaultLeast}); len(g.Drifted()) != 0 {
		t.Errorf("a change below the least counted: %s", g.Drifted()[0].Name())
	}
	if g := h.find(Options{Look: "m*"}); len(g.Drifted()) != 1 || g.Drifted()[0].Name() != "heap at home / mild" {
		t.Errorf("without a least change: %swant the heap", told(g.Drifted()))
	}
	if g := h.find(Options{Look: "fr*", Least: DefaultLeast}); len(g.Drifted()) != 0 || g.Figures != 3 {
		t.Errorf("with a pattern for looks: %d figures, %s", g.Figures, told(g.Drifted()))
	}
	if g := h.find(Options{Last: 7}); g.Runs != 7 || len(g.Builds) != 1 || len(g.Drifted()) != 0 {
		t.Errorf("of the last 7 runs: %d, builds %v, %+v", g.Runs, g.Builds, g.Drifted())
	}
}

func TestTooFewRuns(t *testing.T) {
	h := newHistory(t)
	for i := range 7 {
		h.run([]string{"a", "b"}[i/4], slower)
	}
	if g := h.find(Options{}); g.Testable {
		t.Error("4 runs against 3 were called enough: 2/C(7,3) = 0.057")
	}
	h.run("b", slower)
	if g := h.find(Options{}); !g.Testable {
		t.Error("4 runs against 4 were called too few: 2/C(8,4) = 0.029")
	}
}

func TestFindOnBadInput(t *testing.T) {
	if _, _, err := Find(filepath.Join(t.TempDir(), "none"), Options{}); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("no folder: %v", err)
	}
	if _, _, err := Find(t.TempDir(), Options{Look: "[a"}); err == nil {
		t.Error("a broken pattern was taken")
	}
	h := newHistory(t)
	h.run("a", nil)
	if err := os.WriteFile(filepath.Join(h.dir, "r001", record.File), []byte("{\n\"run\": 3}"), 0o666); err != nil {
		t.Fatal(err)
	}
	groups, skipped, err := Find(h.dir, Options{})
	if err != nil || len(groups) != 0 || len(skipped) != 1 || !strings.Contains(skipped[0].Error(), "run.json") {
		t.Errorf("a broken record: %v, %v, %v", groups, skipped, err)
	}
}

func TestPlotIsWellFormedAndHoldsEveryRun(t *testing.T) {
	h := newHistory(t)
	for range 6 {
		h.run("a <&>", nil)
	}
	for range 9 {
		h.run("b", func(r *record.Run) { slower(r); r.Looks[0].Wire = 0 })
	}
	for _, s := range h.find(Options{Least: DefaultLeast}).Series {
		svg := s.SVG()
		circles := 0
		for d := xml.NewDecoder(strings.NewReader(svg)); ; {
			tok, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatalf("%s: %v\n%s", s.Name(), err, svg)
			}
			el, ok := tok.(xml.StartElement)
			if !ok || el.Name.Local != "circle" {
				continue
			}
			circles++
			for _, a := range el.Attr {
				var v float64
				if a.Name.Local == "cy" {
					if _, err := fmt.Sscan(a.Value, &v); err != nil || v < plotTop || v > plotHeight-plotBottom {
						t.Errorf("%s: a run stands at %s, off the plot", s.Name(), a.Value)
					}
				}
			}
		}
		if circles != 15 {
			t.Errorf("%s: %d runs drawn, want 15", s.Name(), circles)
		}
	}
}

func TestWords(t *testing.T) {
	for _, tt := range []struct {
		kind Kind
		v    float64
		want string
	}{
		{Settle, 0.2134, "213 ms"}, {Boot, 12.34, "12.3 s"}, {Wire, 1234567, "1,234,567 bytes"}, {Gauge, -1234.5, "-1,234.5"}, {Gauge, 999, "999"},
	} {
		if got := (&Series{Kind: tt.kind}).Amount(tt.v); got != tt.want {
			t.Errorf("%v %v reads %q, want %q", tt.kind, tt.v, got, tt.want)
		}
	}
	for _, tt := range []struct {
		before, after float64
		want          string
	}{
		{100, 104, "4.0 % more"}, {100, 150, "50 % more"}, {100, 250, "2.5 times as much"}, {100, 60, "40 % less"}, {0, 5, "it was zero before"},
	} {
		if got := (Change{Before: tt.before, After: tt.after}).much(); got != tt.want {
			t.Errorf("%v to %v reads %q, want %q", tt.before, tt.after, got, tt.want)
		}
	}
	if got := oneIn(2.0 / 924); got != "one case in 460" {
		t.Errorf("2/924 reads %q", got)
	}
}
