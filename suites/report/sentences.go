package report

import (
	"fmt"

	"github.com/fascia-bench/fascia/compare"
)

// Sentences tells a comparison in text, as the page does beside its pictures: causes of the whole panel
// first, then the regions, those of one kind in one sentence about the largest.
func Sentences(res compare.Result) []string {
	var out []string
	told := map[string]bool{}
	say := func(s string) {
		if s != "" && !told[s] {
			told[s] = true
			out = append(out, s)
		}
	}
	own := map[string]bool{}
	for _, r := range res.Regions {
		own[r.Cause] = true
	}
	for _, c := range res.Causes {
		if !own[c.Cause] { // else its regions say the same, and where
			say(c.Says)
		}
	}
	var kinds []string
	largest, count := map[string]compare.Region{}, map[string]int{}
	for _, r := range res.Regions {
		k := kind(r)
		if count[k] == 0 {
			kinds = append(kinds, k)
		}
		count[k]++
		if areaOf(r) > areaOf(largest[k]) {
			largest[k] = r
		}
	}
	for _, k := range kinds {
		s := largest[k].Says
		if n := count[k] - 1; n > 0 && !told[s] {
			s = fmt.Sprintf("%s Likewise %s.", s, plural(n, "other region"))
		}
		say(s)
	}
	return out
}
