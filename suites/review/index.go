package review

import (
	"net/http"
	"strings"

	"github.com/fascia-bench/fascia/suites"
)

// index is what the page needs to know of every look that can be approved.
type index struct {
	Groups []indexGroup `json:"groups"`
	Looks  []indexLook  `json:"looks"`
}

type indexGroup struct {
	Name    string `json:"name"` // as GroupOf has it
	Cause   int    `json:"cause"`
	CauseIs string `json:"causeIs"`
}

type indexLook struct {
	N       int    `json:"n"`
	Walk    string `json:"walk"`
	Look    string `json:"look"`
	Verdict string `json:"verdict"`
	Groups  []int  `json:"groups"` // of each region
	Whole   []int  `json:"whole"`  // groups of a finding without regions
}

func (s *Server) index(w http.ResponseWriter, _ *http.Request) { answer(w, s.known) }

func (s *Server) indexOf() index {
	run := s.desk.Run
	var x index
	ids := map[string]int{}
	for _, c := range s.causes {
		for _, g := range c.Groups {
			name := strings.TrimSpace(c.Name + " " + g.Figures)
			ids[name] = g.ID
			for len(x.Groups) <= g.ID {
				x.Groups = append(x.Groups, indexGroup{})
			}
			x.Groups[g.ID] = indexGroup{name, c.ID, c.Name}
		}
	}
	for i, l := range run.Looks {
		if !suites.Open(l) {
			continue
		}
		e := indexLook{N: i, Walk: l.Walk, Look: l.Look, Verdict: string(l.Verdict), Groups: []int{}, Whole: []int{}}
		if l.Finding != nil {
			for _, r := range l.Finding.Regions {
				e.Groups = append(e.Groups, ids[suites.GroupOf(r.Cause, r.Detail)])
			}
			if len(l.Finding.Regions) == 0 {
				for _, c := range l.Finding.Causes {
					e.Whole = append(e.Whole, ids[suites.GroupOf(c.Cause, c.Detail)])
				}
			}
		}
		x.Looks = append(x.Looks, e)
	}
	return x
}
