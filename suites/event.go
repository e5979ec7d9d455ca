package suites

import (
	"encoding/json"
	"io"

	"github.com/fascia-bench/fascia/suites/record"
)

// An Event is one thing that happened in the child process of a run, as it streams them to its
// parent: one JSON value a line on its standard error. Just one field is set.
type Event struct {
	Device      *record.Device      `json:"device,omitempty"`
	Begin       *record.Walk        `json:"begin,omitempty"` // a walk begins
	Look        *record.Look        `json:"look,omitempty"`
	Expectation *record.Expectation `json:"expectation,omitempty"`
	End         *record.Walk        `json:"end,omitempty"`  // the walk, with what it took
	Note        string              `json:"note,omitempty"` // something that happened to the bench
	Hand        string              `json:"hand,omitempty"` // what somebody is asked to do
	Fatal       *Fatal              `json:"fatal,omitempty"`
	Done        bool                `json:"done,omitempty"` // all walks were walked
}

// Fatal says why there will be no verdict at all.
type Fatal struct {
	Error string `json:"error"`
	Hint  string `json:"hint,omitempty"`
}

// A sender hands events on: to a parent process, or within this one.
type sender struct{ note func(Event) }

func newSender(w io.Writer) sender {
	enc := json.NewEncoder(w)
	// A parent that is gone cannot be told; the specs then end by themselves.
	return sender{func(e Event) { _ = enc.Encode(e) }}
}

func (s sender) send(e Event) { s.note(e) }
