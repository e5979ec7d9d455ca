package suites

import (
	"fmt"
	"slices"
	"strings"

	"github.com/onsi/ginkgo/v2/types"

	"github.com/fascia-bench/fascia/suites/record"
)

// CheckAsked refuses an expression of labels or a pattern of looks that is none, or that nothing in the plan
// fits: a run that looks at nothing would be taken for one that found nothing. Either may be "".
func (p *Plan) CheckAsked(labels, looks string) error {
	fits, err := types.ParseLabelFilter(labels)
	if err != nil {
		return fmt.Errorf(`%q is no expression of labels: join them by &&, || and !, with brackets, as "slow && !de"`, labels)
	}
	any, seen := false, false
	var have, names []string
	for _, w := range p.Walks {
		have = append(have, w.Labels...)
		if !fits(w.Labels) {
			continue
		}
		any = true
		for _, l := range w.Looks() {
			ok, err := Choice{Look: looks}.has(record.Look{Walk: w.Name, Look: l.Name})
			if err != nil {
				return err
			}
			seen = seen || ok
			names = append(names, w.Name+"/"+l.Name)
		}
	}
	slices.Sort(have)
	have = slices.Compact(have)
	switch {
	case !any && len(have) == 0:
		return fmt.Errorf("no walk fits the labels %q: none has any (labels: [slow] in a walk)", labels)
	case !any:
		return fmt.Errorf("no walk fits the labels %q: there are %s", labels, strings.Join(have, ", "))
	case !seen && looks != "":
		const shown = 8
		rest := ""
		if n := len(names) - shown; n > 0 {
			names, rest = names[:shown], fmt.Sprintf(" and %d more, which fascia run --dry lists", n)
		}
		return fmt.Errorf("no look fits %q: there are %s%s", looks, strings.Join(names, ", "), rest)
	}
	return nil
}
