package suites

import (
	"fmt"

	"github.com/onsi/gomega/types"

	"github.com/fascia-bench/fascia/suites/record"
)

// MatchGolden matches a record.Look that is the same as its golden. Its failure tells what changed.
func MatchGolden() types.GomegaMatcher { return goldenMatcher{} }

type goldenMatcher struct{}

func (goldenMatcher) Match(actual any) (bool, error) {
	l, ok := actual.(record.Look)
	if !ok {
		return false, fmt.Errorf("MatchGolden takes a record.Look, as Bench.Look returns it, not %T", actual)
	}
	return l.Verdict == record.Same, nil
}

func (goldenMatcher) FailureMessage(actual any) string {
	l, _ := actual.(record.Look)
	s := fmt.Sprintf("%s / %s: %s", l.Walk, l.Look, l.Verdict)
	if l.Why != "" {
		s += "\n" + l.Why
	}
	if l.Finding != nil {
		for _, c := range l.Finding.Causes {
			s += "\n" + c.Says
		}
	}
	return s
}

func (goldenMatcher) NegatedFailureMessage(actual any) string {
	l, _ := actual.(record.Look)
	return fmt.Sprintf("%s / %s is the same as its golden", l.Walk, l.Look)
}

// BeMet matches a record.Expectation that is met.
func BeMet() types.GomegaMatcher { return metMatcher{} }

type metMatcher struct{}

func (metMatcher) Match(actual any) (bool, error) {
	e, ok := actual.(record.Expectation)
	if !ok {
		return false, fmt.Errorf("BeMet takes a record.Expectation, not %T", actual)
	}
	return e.Result == record.Met, nil
}

func (metMatcher) FailureMessage(actual any) string {
	e, _ := actual.(record.Expectation)
	return fmt.Sprintf("%s: %s: missed: %s", e.Walk, e.What, e.Why)
}

func (metMatcher) NegatedFailureMessage(actual any) string {
	e, _ := actual.(record.Expectation)
	return fmt.Sprintf("%s: %s: met", e.Walk, e.What)
}
