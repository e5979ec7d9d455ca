package review

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/record"
)

// A cause has groups, those in most looks first.
type cause struct {
	Name   string
	ID     int
	Looks  int
	Groups []group
}

// A group is what came about in the same way.
type group struct {
	ID       int
	Figures  string // what sets it apart from others of its cause
	From, To string // colours
	Says     string // of one of them
	Regions  int
	Looks    []member
	Look     int // where its specimen is
	Region   int // -1: the whole panel
	Place    string
}

type member struct {
	Look    int
	Name    string
	Regions int
}

// causesOf gathers the findings of a run by cause and group. A cause of the whole panel counts where no
// region has one of its own.
func causesOf(run *record.Run) []cause {
	groups := map[string]*group{}
	causeOf := map[string]string{}
	add := func(name string, d compare.Detail, says string, i, region int) {
		id := suites.GroupOf(name, d)
		g := groups[id]
		if g == nil {
			g = &group{Figures: strings.TrimSpace(strings.TrimPrefix(id, name)), Says: says, Look: i, Region: region}
			g.From, _ = d["from"].(string)
			g.To, _ = d["to"].(string)
			if !hexColour(g.From) || !hexColour(g.To) {
				g.From, g.To = "", ""
			}
			groups[id], causeOf[id] = g, name
		}
		if n := len(g.Looks); n == 0 || g.Looks[n-1].Look != i {
			l := run.Looks[i]
			g.Looks = append(g.Looks, member{Look: i, Name: l.Walk + " / " + l.Look})
		}
		if region >= 0 {
			g.Regions++
			g.Looks[len(g.Looks)-1].Regions++
			if best := run.Looks[g.Look].Finding.Regions; g.Region >= 0 && telling(run.Looks[i].Finding.Regions[region]) > telling(best[g.Region]) {
				g.Look, g.Region, g.Says = i, region, says
			}
		}
	}
	for i, l := range run.Looks {
		if l.Finding == nil || !suites.Open(l) {
			continue
		}
		for j, r := range l.Finding.Regions {
			add(r.Cause, r.Detail, r.Says, i, j)
		}
		if len(l.Finding.Regions) == 0 {
			for _, c := range l.Finding.Causes {
				add(c.Cause, c.Detail, c.Says, i, -1)
			}
		}
	}
	var ids []string
	for id, g := range groups {
		ids = append(ids, id)
		if g.Region >= 0 {
			l := run.Looks[g.Look]
			g.Place = fmt.Sprintf("%s / %s, region %d", l.Walk, l.Look, g.Region+1)
		}
	}
	sort.Slice(ids, func(a, b int) bool {
		x, y := groups[ids[a]], groups[ids[b]]
		if len(x.Looks) != len(y.Looks) {
			return len(x.Looks) > len(y.Looks)
		}
		return ids[a] < ids[b]
	})
	var out []cause
	for n, id := range ids {
		groups[id].ID = n
		name := causeOf[id]
		k := slices.IndexFunc(out, func(c cause) bool { return c.Name == name })
		if k < 0 {
			k = len(out)
			out = append(out, cause{Name: name, ID: k})
		}
		out[k].Groups = append(out[k].Groups, *groups[id])
	}
	for k := range out {
		looks := map[int]bool{}
		for _, g := range out[k].Groups {
			for _, m := range g.Looks {
				looks[m.Look] = true
			}
		}
		out[k].Looks = len(looks)
	}
	return out
}

// telling says how well a region serves as a specimen: large, but not larger than can be shown.
func telling(r compare.Region) int { return min(r.W, 90) * min(r.H, 55) }

func hexColour(s string) bool {
	if len(s) != 7 || s[0] != '#' {
		return false
	}
	return strings.Trim(s[1:], "0123456789abcdef") == ""
}
