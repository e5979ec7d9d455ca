package drift

import (
	"cmp"
	"fmt"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"github.com/fascia-bench/fascia/suites/record"
)

// Find reads the records below a runs folder and follows their figures, a group for each bench and
// target. A record that cannot be read is told in skipped, and does not count.
func Find(runs string, opt Options) (groups []*Group, skipped []error, err error) {
	if _, err := path.Match(opt.Look, ""); err != nil {
		return nil, nil, fmt.Errorf("the pattern %q for looks: %w", opt.Look, err)
	}
	entries, err := os.ReadDir(runs)
	if err != nil {
		return nil, nil, fmt.Errorf("read the runs: %w", err)
	}
	type key struct{ bench, target string }
	found := map[key][]*record.Run{}
	for _, e := range entries {
		dir := filepath.Join(runs, e.Name())
		if _, err := os.Stat(filepath.Join(dir, record.File)); err != nil {
			continue // not a run
		}
		run, err := record.Load(dir)
		if err != nil {
			skipped = append(skipped, err)
			continue
		}
		k := key{run.Bench, run.Target}
		found[k] = append(found[k], run)
	}
	for _, list := range found {
		groups = append(groups, follow(list, opt))
	}
	slices.SortFunc(groups, func(a, b *Group) int {
		return cmp.Or(strings.Compare(a.Bench, b.Bench), strings.Compare(a.Target, b.Target))
	})
	return groups, skipped, nil
}

// follow makes a group of the runs of one bench and target.
func follow(list []*record.Run, opt Options) *Group {
	g := &Group{Bench: list[0].Bench, Target: list[0].Target}
	slices.SortStableFunc(list, func(a, b *record.Run) int {
		return cmp.Or(a.Started.Compare(b.Started), strings.Compare(a.Run, b.Run))
	})
	whole := slices.DeleteFunc(list, func(r *record.Run) bool { return r.Why != "" || r.Ended.IsZero() })
	if broken := len(list) - len(whole); broken > 0 {
		g.Notes = append(g.Notes, fmt.Sprintf("%d that broke off %s not counted", broken, isAre(broken)))
	}
	if opt.Last > 0 {
		whole = whole[max(0, len(whole)-opt.Last):]
	}
	c := &collector{g: g, opt: opt, at: map[seriesKey]*Series{}, hash: map[string]string{}, stale: map[string]int{}}
	for _, r := range slices.Backward(whole) { // newest first: its walks are the ones that count
		for _, w := range r.Walks {
			if _, ok := c.hash[w.Walk]; !ok {
				c.hash[w.Walk] = w.Hash
			}
		}
	}
	for _, r := range whole {
		g.Runs++
		if !slices.Contains(g.Builds, r.Device.Build) {
			g.Builds = append(g.Builds, r.Device.Build)
		}
		c.add(r)
	}
	for _, walk := range slices.Sorted(maps.Keys(c.stale)) {
		n := c.stale[walk]
		g.Notes = append(g.Notes, fmt.Sprintf("walk %s was changed: %d of its runs before that %s not counted", walk, n, isAre(n)))
	}
	g.judge(opt)
	return g
}

func isAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

type seriesKey struct {
	kind              Kind
	gauge, walk, look string
}

// A collector takes the figures out of records.
type collector struct {
	g     *Group
	opt   Options
	at    map[seriesKey]*Series
	hash  map[string]string // of the walks that count
	stale map[string]int    // runs of a walk with another hash
}

func (c *collector) put(r *record.Run, k seriesKey, v float64) {
	s, ok := c.at[k]
	if !ok {
		s = &Series{Kind: k.kind, Gauge: k.gauge, Walk: k.walk, Look: k.look}
		c.at[k] = s
		c.g.Series = append(c.g.Series, s)
	}
	s.Seen = append(s.Seen, Point{Run: r.Run, Started: r.Started, Build: r.Device.Build, Value: v})
}

func (c *collector) add(r *record.Run) {
	usable := map[string]bool{}
	var boots []float64
	for _, w := range r.Walks {
		if w.Boot > 0 && c.opt.Look == "" && (c.opt.Walk == "" || c.opt.Walk == w.Walk) {
			boots = append(boots, w.Boot)
		}
		switch {
		case c.opt.Walk != "" && c.opt.Walk != w.Walk, w.Why != "":
		case w.Hash != c.hash[w.Walk]:
			c.stale[w.Walk]++
		default:
			usable[w.Walk] = true
		}
	}
	if len(boots) > 0 {
		c.put(r, seriesKey{kind: Boot}, median(boots))
	}
	for _, l := range r.Looks {
		if !usable[l.Walk] {
			continue
		}
		if ok, _ := path.Match(c.opt.Look, l.Look); !ok && c.opt.Look != "" { // a bad pattern was refused before
			continue
		}
		if l.Verdict == record.Same {
			c.put(r, seriesKey{kind: Settle, walk: l.Walk, look: l.Look}, l.Settle)
			c.put(r, seriesKey{kind: Wire, walk: l.Walk, look: l.Look}, float64(l.Wire))
		}
		for _, name := range slices.Sorted(maps.Keys(l.Gauges)) {
			c.put(r, seriesKey{Gauge, name, l.Walk, l.Look}, float64(l.Gauges[name]))
		}
	}
}
