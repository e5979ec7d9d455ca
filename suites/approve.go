package suites

import (
	"errors"
	"fmt"
	"image"
	"path"
	"slices"
	"sort"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites/record"
)

// A Choice says what of a run is meant. What is named is meant together: a cause in certain looks, a
// region of one.
type Choice struct {
	Look   string           // pattern of walk/look, of their names or file names; "" any
	Cause  string           // only what has this cause; "" any
	Group  string           // only what is in this group, see GroupOf; "" any
	Region *image.Rectangle // only regions that lie in this box, of a single look
	All    bool             // all that could be approved
}

// GroupOf names the group of a cause: findings that came about in the same way, such as one colour
// that became another throughout. Figures that differ from place to place set none apart.
func GroupOf(cause string, d compare.Detail) string {
	switch cause {
	case "edges", "resized", "text", "missing", "added", "other":
		return cause
	}
	var figures []string
	for k, v := range d {
		figures = append(figures, fmt.Sprintf("%s=%v", k, v))
	}
	sort.Strings(figures)
	return strings.Join(append([]string{cause}, figures...), " ")
}

// Choose finds what is meant, in the order of the run. Of a look in which something else differs, too,
// a cause, a group or a box stand for their regions only.
func (d *Desk) Choose(c Choice) ([]Want, error) {
	if c == (Choice{}) {
		return nil, errors.New("approve which looks? Name them by look, by cause or by group, or say all")
	}
	var out []Want
	for i, l := range d.Run.Looks {
		if !Open(l) {
			continue
		}
		ok, err := c.has(l)
		if err != nil {
			return nil, err
		}
		if !ok {
			continue
		}
		if c.Cause == "" && c.Group == "" && c.Region == nil {
			out = append(out, Want{Look: i})
		} else if w, ok := c.within(i, l); ok {
			out = append(out, w)
		}
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("run %s has no look to approve that fits", d.Run.Run)
	}
	if c.Region != nil && len(out) > 1 {
		l, m := d.Run.Looks[out[0].Look], d.Run.Looks[out[1].Look]
		return nil, fmt.Errorf("a region is approved in one look, and both %s/%s and %s/%s fit: name the look", l.Walk, l.Look, m.Walk, m.Look)
	}
	return out, nil
}

// within picks the regions of a finding that are meant, or the whole look where its one explanation
// holds for the panel and not for regions.
func (c Choice) within(i int, l record.Look) (Want, bool) {
	if l.Finding == nil {
		return Want{}, false
	}
	fits := func(cause string, d compare.Detail) bool {
		return (c.Cause == "" || c.Cause == cause) && (c.Group == "" || c.Group == GroupOf(cause, d))
	}
	w := Want{Look: i}
	for j, r := range l.Finding.Regions {
		if fits(r.Cause, r.Detail) && (c.Region == nil || r.Rect().In(*c.Region)) {
			w.Regions = append(w.Regions, j)
		}
	}
	if len(w.Regions) > 0 {
		return w, true
	}
	cs := l.Finding.Causes
	return w, c.Region == nil && len(cs) == 1 && len(cs[0].With) == 0 && fits(cs[0].Cause, cs[0].Detail)
}

// has reports whether a look is named.
func (c Choice) has(l record.Look) (bool, error) {
	if c.Look == "" {
		return true, nil
	}
	return Named(c.Look, l.Walk, l.Look)
}

// Named reports whether a pattern fits walk/look or look, by their names or their file names.
func Named(pattern, walk, look string) (bool, error) {
	walkFile, err1 := golden.FileName(walk)
	lookFile, err2 := golden.FileName(look)
	if err := errors.Join(err1, err2); err != nil {
		return false, err
	}
	for _, name := range []string{walk + "/" + look, look, walkFile + "/" + lookFile, lookFile} {
		ok, err := path.Match(pattern, name)
		if err != nil {
			return false, fmt.Errorf("pattern %q: %w", pattern, err)
		}
		if ok {
			return true, nil
		}
	}
	return false, nil
}

// Groups lists the groups of a run's findings, those in most looks first.
func Groups(run *record.Run) []string {
	looks := map[string]int{}
	for _, l := range run.Looks {
		if l.Finding == nil {
			continue
		}
		var own []string
		for _, r := range l.Finding.Regions {
			own = append(own, GroupOf(r.Cause, r.Detail))
		}
		for _, c := range l.Finding.Causes {
			own = append(own, GroupOf(c.Cause, c.Detail))
		}
		slices.Sort(own)
		for _, g := range slices.Compact(own) {
			looks[g]++
		}
	}
	var out []string
	for g := range looks {
		out = append(out, g)
	}
	sort.Slice(out, func(a, b int) bool {
		if looks[out[a]] != looks[out[b]] {
			return looks[out[a]] > looks[out[b]]
		}
		return out[a] < out[b]
	})
	return out
}

// Approve approves what is chosen of the run in a folder.
func Approve(runDir string, choice Choice, who, why string, now time.Time) (*Desk, []Deed, error) {
	d, err := OpenDesk(runDir, nil)
	if err != nil {
		return nil, nil, err
	}
	wants, err := d.Choose(choice)
	if err != nil {
		return d, nil, err
	}
	deeds, err := d.Approve(wants, who, why, now)
	return d, deeds, err
}
