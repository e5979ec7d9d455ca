package compare

import (
	"fmt"
	"image"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/fascia-bench/fascia/compare/internal/pairs"
)

// long asks for whole campaigns instead of samples (make long).
var long = os.Getenv("FASCIA_LONG") == "1"

// seed of all labelled pairs.
const seed = 20

// photoHalves are pictures that whole-panel faults are applied to, in two halves.
var photoHalves = [2][]string{{"camera", "coffee", "panel"}, {"astronaut", "text", "coins", "brick"}}

func newSource(t testing.TB, seed uint64, half pairs.Half) *pairs.Source {
	s := pairs.NewSource(seed, half)
	for _, f := range photoHalves[half] {
		s.AddPhoto(f, readPicture(t, "img/"+f+".png"))
	}
	for i, name := range demoGoldens(t) {
		if i%2 == int(half) {
			f, err := os.Open(name)
			if err != nil {
				t.Fatal(err)
			}
			m, _, err := image.Decode(f)
			f.Close()
			if err != nil {
				t.Fatalf("decode %s: %v", name, err)
			}
			s.AddPhoto(filepath.Base(name), m)
		}
	}
	return s
}

// demoGoldens lists the approved screens of the demo.
func demoGoldens(t testing.TB) (names []string) {
	t.Helper()
	err := filepath.WalkDir("../suites/demo/golden", func(name string, _ fs.DirEntry, err error) error {
		if strings.HasSuffix(name, ".png") && !strings.Contains(filepath.Base(name), ".photo-") {
			names = append(names, name)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(names)
	return names
}

// tally counts outcomes.
type tally struct {
	got                  map[string]map[string]int
	right, n             int
	details, detailed    int
	boxHits, boxes, ours int
	wrong                []string
	claimed              float64 // sum of the confidences of the top causes
}

func (t *tally) add(want, got string) {
	if t.got == nil {
		t.got = map[string]map[string]int{}
	}
	if t.got[want] == nil {
		t.got[want] = map[string]int{}
	}
	t.got[want][got]++
	t.n++
	if want == got {
		t.right++
	}
}

func (t *tally) String() string {
	var b strings.Builder
	rows := make([]string, 0, len(t.got))
	for k := range t.got {
		rows = append(rows, k)
	}
	slices.Sort(rows)
	for _, k := range rows {
		fmt.Fprintf(&b, "  %-17s", k)
		cols := make([]string, 0, len(t.got[k]))
		for c := range t.got[k] {
			cols = append(cols, c)
		}
		slices.SortFunc(cols, func(p, q string) int { return t.got[k][q] - t.got[k][p] })
		for _, c := range cols {
			fmt.Fprintf(&b, " %s %d", c, t.got[k][c])
		}
		b.WriteByte('\n')
	}
	fmt.Fprintf(&b, "  right %d of %d: %.2f %%", t.right, t.n, 100*t.share())
	if t.detailed > 0 {
		fmt.Fprintf(&b, "; figures right in %d of %d", t.details, t.detailed)
	}
	fmt.Fprintf(&b, "; mean confidence %.3f", t.claimed/float64(t.n))
	fmt.Fprintf(&b, "; boxes: recall %.4f, precision %.4f", float64(t.boxHits)/float64(max(1, t.boxes)), float64(t.boxHits)/float64(max(1, t.ours)))
	return b.String()
}

func (t *tally) share() float64 { return float64(t.right) / float64(t.n) }

// TestConfusion names the cause of labelled pairs. Thresholds were set on the screens of the
// first half; the bounds are asked of the second.
func TestConfusion(t *testing.T) {
	n := 14
	if long {
		n = 200
	}
	for _, half := range []pairs.Half{pairs.Tuning, pairs.Judged} {
		name := [2]string{"tuning half", "judged half"}[half]
		whole, part := &tally{}, &tally{}
		var wg sync.WaitGroup
		for _, set := range []struct {
			causes []string
			sum    *tally
			make   func(*pairs.Source, string) pairs.Pair
		}{
			{pairs.WholeFaults, whole, (*pairs.Source).Whole},
			{pairs.PartFaults, part, (*pairs.Source).Part},
		} {
			s := newSource(t, seed, half)
			wg.Go(func() {
				for _, cause := range set.causes {
					for range n {
						set.sum.judge(cause, set.make(s, cause))
					}
				}
			})
		}
		wg.Wait()
		t.Logf("%s, seed %d, whole panel:\n%v", name, seed, whole)
		t.Logf("%s, seed %d, parts:\n%v", name, seed, part)
		for _, w := range append(whole.wrong, part.wrong...) {
			t.Log(w)
		}
		if half == pairs.Tuning {
			continue
		}
		if whole.share() < 0.98 {
			t.Errorf("whole panel: %.3f right, want 0.98", whole.share())
		}
		if part.share() < 0.92 {
			t.Errorf("parts: %.3f right, want 0.92", part.share())
		}
		for _, s := range []*tally{whole, part} {
			// Confidence is honest if it comes to the share that is right.
			if mean := s.claimed / float64(s.n); math.Abs(mean-s.share()) > 0.08 {
				t.Errorf("mean confidence %.3f, but %.3f are right", mean, s.share())
			}
			if r, p := float64(s.boxHits)/float64(s.boxes), float64(s.boxHits)/float64(s.ours); r < 0.9 || p < 0.9 {
				t.Errorf("boxes: recall %.3f, precision %.3f, want 0.9 of both", r, p)
			}
		}
	}
}

// judge compares one pair and counts what came out.
func (t *tally) judge(cause string, p pairs.Pair) {
	var opt Options
	if p.Previous != nil {
		opt.Previous = p.Previous
	}
	r := Compare(p.Golden, p.Capture, opt)
	want := []string{p.Part.Cause}
	if p.Part.Cause == "" {
		want = want[:0]
		for _, f := range p.Whole {
			want = append(want, f.Cause)
		}
	}
	top := r.Causes[0]
	got := []string{top.Cause}
	for _, w := range top.With {
		got = append(got, w.Cause)
	}
	g, w := strings.Join(got, "+"), strings.Join(want, "+")
	if cause == "composed" { // the matrix would have a row for each
		if g == w {
			g = cause
		} else {
			g = "not it"
		}
		w = cause
	}
	t.add(w, g)
	t.claimed += top.Confidence
	if g != w {
		t.wrong = append(t.wrong, fmt.Sprintf("%s: %s %v %v, found %v %v", p.Screen, cause, p.Part.Detail, p.Whole, got, top.Detail))
	} else {
		t.checkDetail(p, top)
	}
	t.boxes += len(p.Regions)
	t.ours += len(r.Regions)
	t.boxHits += matched(p.Regions, r.Regions)
}

// checkDetail counts whether the figures are right, too.
func (t *tally) checkDetail(p pairs.Pair, top Cause) {
	faults := p.Whole
	if p.Part.Cause != "" {
		faults = []pairs.Fault{p.Part}
	}
	for i, f := range faults {
		d := top.Detail
		if i > 0 {
			d = top.With[i-1].Detail
		}
		for key, want := range f.Detail {
			if key == "from" || key == "to" || key == "colour" || key == "gain" || key == "gamma" || key == "row" {
				continue // see TestDetails
			}
			t.detailed++
			if wf, ok := want.(float64); ok {
				if gf, ok := d[key].(float64); ok && math.Abs(gf/wf-1) < 0.02 {
					t.details++
				}
			} else if d[key] == want {
				t.details++
			}
		}
	}
}

// matched counts the true boxes that a found box meets with an intersection over union of
// at least a half, each found box serving once.
func matched(truth []image.Rectangle, found []Region) (hits int) {
	used := make([]bool, len(found))
	for _, want := range truth {
		for i, f := range found {
			in := want.Intersect(f.Rect())
			union := want.Dx()*want.Dy() + f.W*f.H - in.Dx()*in.Dy()
			if !used[i] && 2*in.Dx()*in.Dy() >= union {
				used[i] = true
				hits++
				break
			}
		}
	}
	return hits
}
