package between

import (
	"fmt"
	"io"
	"strings"

	"github.com/fascia-bench/fascia/compare/group"
)

// namesShown is how many looks of a group are named in the terminal; --json has all.
const namesShown = 6

// Tell prints the groups for people, those to look at first on top.
func (r *Report) Tell(w io.Writer) {
	for _, n := range r.Uncaptured {
		fmt.Fprintf(w, "%s: no picture: %s\n", n, n.Why)
	}
	for _, m := range r.Mapped {
		fmt.Fprintln(w, m)
	}
	var unseen []Group
	for _, g := range r.All() {
		if g.Seen == group.No {
			unseen = append(unseen, g)
			continue
		}
		g.tell(w)
	}
	if len(unseen) > 0 {
		fmt.Fprintf(w, "Nobody sees these:\n")
		for _, g := range unseen {
			g.tell(w)
		}
	}
	tellNames(w, "only before", r.OnlyBefore)
	tellNames(w, "only after", r.OnlyAfter)
	photos := ""
	if n := r.photos(); n > 0 {
		photos = fmt.Sprintf(" and %d photos of them", n)
	}
	fmt.Fprintf(w, "%d looks%s: %d same, %d differ, in %d groups and %d single changes\n",
		len(r.looks)-r.photos()+len(r.Uncaptured), photos, r.Same, r.Differ(), len(r.Groups), len(r.Single))
}

func (g Group) tell(w io.Writer) {
	says := g.Says
	if g.Seen == group.Subtle {
		says += " Hard to see."
	}
	fmt.Fprintf(w, "%3d  %s\n     ", g.Rank, says)
	for i, l := range g.Looks {
		if i == namesShown {
			fmt.Fprintf(w, " and %d more", len(g.Looks)-i)
			break
		}
		if i > 0 {
			fmt.Fprint(w, ", ")
		}
		fmt.Fprint(w, Name{Walk: l.Walk, Look: l.Look})
	}
	fmt.Fprintln(w)
}

func tellNames(w io.Writer, where string, list []Name) {
	if len(list) == 0 {
		return
	}
	names := make([]string, len(list))
	for i, n := range list {
		names[i] = n.String()
	}
	fmt.Fprintf(w, "%s: %s\n", where, strings.Join(names, ", "))
}

func (n Name) String() string {
	if n.Walk == "" {
		return n.Look
	}
	return n.Walk + " / " + n.Look
}
