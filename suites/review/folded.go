package review

import (
	"image"
	"net/http"
	"sync"

	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/between"
)

// folded is a change of the run against its goldens, as the page lists it.
type folded struct {
	Rank  int    `json:"rank"`
	Says  string `json:"says"`
	Seen  string `json:"seen"`
	Looks int    `json:"looks"`
	First int    `json:"first"` // a look that shows it, by its number in the run; -1 if none is open
	// Takes are the regions that show this change and no other, by look: what approving it takes.
	Takes []taken `json:"takes"`
}

type taken struct {
	Look    int   `json:"look"`
	Regions []int `json:"regions"`
}

// folder folds a run once, when it is first asked for.
type folder struct {
	once sync.Once
	list []folded
	err  error
}

// folded answers with what changed, folded. A run of many looks takes its time, so the page asks for it beside the rest.
func (s *Server) folded(w http.ResponseWriter, _ *http.Request) {
	s.fold.once.Do(func() { s.fold.list, s.fold.err = s.foldRun() })
	if s.fold.err != nil {
		refuse(w, http.StatusInternalServerError, s.fold.err.Error())
		return
	}
	answer(w, s.fold.list)
}

func (s *Server) foldRun() ([]folded, error) {
	p, err := between.Open(s.desk.Dir, "")
	if err != nil {
		return nil, err
	}
	r, err := p.Compare()
	if err != nil {
		return nil, err
	}
	all := r.All()
	out := make([]folded, len(all))
	at := map[[2]string]int{}
	for i, l := range s.desk.Run.Looks {
		at[[2]string{l.Walk, l.Look}] = i
	}
	for i, g := range all {
		out[i] = folded{Rank: g.Rank, Says: g.Says, Seen: string(g.Seen), Looks: len(g.Looks), First: -1, Takes: []taken{}}
		for _, c := range g.Looks {
			if n := at[[2]string{c.Walk, c.Look}]; out[i].First < 0 && suites.Open(s.desk.Run.Looks[n]) {
				out[i].First = n
			}
		}
	}
	for n, l := range s.desk.Run.Looks {
		if l.Finding == nil || !suites.Open(l) || len(l.Finding.Regions) == 0 {
			continue
		}
		boxes := make([]image.Rectangle, len(l.Finding.Regions))
		for i, reg := range l.Finding.Regions {
			boxes[i] = reg.Rect()
		}
		for i, rank := range r.Whose(between.Name{Walk: l.Walk, Look: l.Look}, l.Finding.Size.Capture[0], l.Finding.Size.Capture[1], boxes) {
			if rank == 0 {
				continue
			}
			g := &out[rank-1]
			if k := len(g.Takes); k == 0 || g.Takes[k-1].Look != n {
				g.Takes = append(g.Takes, taken{Look: n})
			}
			last := &g.Takes[len(g.Takes)-1]
			last.Regions = append(last.Regions, i)
		}
	}
	return out, nil
}
