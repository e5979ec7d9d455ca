package record

import (
	"slices"
	"testing"
	"time"
)

// Every mixture of verdicts, expectations and looks set aside, against the rule of the contract in words: 2 if
// there is no verdict, else 1 if anything differs, is unapproved, missed or set aside too long, else 0.
func TestExitOfEveryMixture(t *testing.T) {
	asides := map[string]*Aside{"not aside": nil, "aside": {Until: "2031-06-01"}, "past": {Until: "2031-06-01", Past: true}}
	results := [][]Result{nil, {Met}, {Missed}, {Met, Missed}}
	tried := 0
	for mask := range 1 << len(Verdicts) {
		for name, aside := range asides {
			for _, rs := range results {
				for _, ended := range []bool{true, false} {
					run := Run{}
					if ended {
						run.Ended = time.Date(2031, 5, 4, 9, 30, 0, 0, time.UTC)
					}
					var in []Verdict
					for i, v := range Verdicts {
						if mask>>i&1 == 1 {
							in = append(in, v)
							run.Looks = append(run.Looks, Look{Verdict: v, Aside: aside})
						}
					}
					for _, r := range rs {
						run.Expectations = append(run.Expectations, Expectation{Result: r})
					}
					slices.Reverse(run.Looks) // the order means nothing

					has := func(v Verdict) bool { return slices.Contains(in, v) }
					want := 0
					switch {
					case !ended, len(in)+len(rs) == 0, has(NoCapture), has(NotReached):
						want = 2
					case slices.Contains(rs, Missed), len(in) > 0 && name == "past", name == "not aside" && (has(Differs) || has(Unapproved)):
						want = 1
					}
					tried++
					if got := run.Exit(); got != want {
						t.Errorf("%v, %s, expectations %v, ended %v: Exit = %d, want %d", in, name, rs, ended, got, want)
					}
				}
			}
		}
	}
	if tried != 32*3*4*2 {
		t.Errorf("%d mixtures tried", tried)
	}
}
