package review

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"unicode/utf8"

	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites"
)

// state is what may change while the page is open.
type state struct {
	Standings map[int]suites.Standing `json:"standings"`
	Written   []Written               `json:"written"`
	// Note is said after what was written: it is recorded, and something has yet to be done.
	Note string `json:"note,omitempty"`
}

func (s *Server) state(w http.ResponseWriter, _ *http.Request) {
	st, err := s.stateNow()
	if err != nil {
		refuse(w, http.StatusConflict, err.Error())
		return
	}
	answer(w, st)
}

func (s *Server) stateNow() (state, error) {
	st := state{Written: s.Written()}
	var err error
	st.Standings, err = s.desk.Standings()
	return st, err
}

// order is what the page asks to be recorded.
type order struct {
	Who   string        `json:"who"`
	Why   string        `json:"why"`
	Wants []suites.Want `json:"wants"`
}

func (s *Server) write(w http.ResponseWriter, r *http.Request) {
	var o order
	dec := json.NewDecoder(r.Body)
	dec.DisallowUnknownFields()
	err := dec.Decode(&o)
	if err == nil {
		if _, more := dec.Token(); more != io.EOF {
			err = errors.New("something follows the JSON")
		}
	}
	var large *http.MaxBytesError
	switch {
	case errors.As(err, &large):
		refuse(w, http.StatusRequestEntityTooLarge, fmt.Sprintf("more than %d bytes are not taken at once", large.Limit))
		return
	case err != nil:
		refuse(w, http.StatusBadRequest, "this is no order of the review page: "+err.Error())
		return
	case strings.TrimSpace(o.Why) == "":
		refuse(w, http.StatusBadRequest, "an approval needs a reason")
		return
	case strings.TrimSpace(o.Who) == "":
		refuse(w, http.StatusBadRequest, "an approval needs a name")
		return
	case utf8.RuneCountInString(o.Why) > maxReason || utf8.RuneCountInString(o.Who) > 200:
		refuse(w, http.StatusBadRequest, fmt.Sprintf("a reason has at most %d characters, a name 200", maxReason))
		return
	case len(o.Wants) == 0:
		refuse(w, http.StatusBadRequest, "nothing is chosen")
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	now := s.opt.Now()
	deeds, err := s.desk.Approve(o.Wants, o.Who, o.Why, now)
	unfinished := errors.Is(err, golden.ErrUnfinished)
	if err != nil && !unfinished {
		refuse(w, http.StatusConflict, err.Error())
		return
	}
	st := state{}
	if len(deeds) > 0 {
		s.written = append(s.written, Written{strings.TrimSpace(o.Why), strings.TrimSpace(o.Who), now.UTC(), deeds})
	}
	st.Written = s.written
	if unfinished {
		st.Note = err.Error() + ". fascia golden check --repair puts them in place."
	}
	if st.Standings, err = s.desk.Standings(); err != nil {
		st.Note = strings.TrimSpace(st.Note + " " + err.Error())
	}
	answer(w, st)
}
