package suites

import (
	"slices"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture/bench/yamlfile"
)

// Times that a step may name, and what holds where it names none.
const (
	longest       = 60 * time.Second // what the link can wait in one exchange
	defaultStill  = 150 * time.Millisecond
	defaultLatest = 5 * time.Second
	defaultHold   = 800 * time.Millisecond
	defaultDrag   = 250 * time.Millisecond
)

// steps maps a step's name to its reader.
var steps map[string]func(w *Walk, n yamlfile.Node) (Action, error)

func init() { // a map literal here would refer to itself through the readers' errors
	steps = map[string]func(*Walk, yamlfile.Node) (Action, error){
		"reset":  readReset,
		"wait":   readWait,
		"settle": readSettle,
		"clock":  readClock,
		"feed":   readFeed,
		"tap":    readTap,
		"hold":   readHold,
		"drag":   readDrag,
		"key":    readKey,
		"type":   readType,
		"turn":   readTurn,
		"roll":   readRoll,
		"exec":   readExec,
		"look":   readLook,
		"log":    readLog,
		"within": readWithin,
		"redraw": readRedraw,
		"lamp":   readLamp,
		"steady": readSteady,
		"hand":   readHand,
		"sweep":  readSweep,
		"glass":  readGlass,
	}
}

func stepNames() []string {
	var names []string
	for name := range steps {
		names = append(names, name)
	}
	return append(names, "via", "each") // which become steps themselves
}

// readStep reads one item of a walk's steps: a name alone, or a name with what it needs.
func (w *Walk) readStep(n yamlfile.Node) (Step, error) {
	if !n.IsMap() {
		name, err := n.Scalar()
		if err != nil {
			return Step{}, err
		}
		switch name {
		case "reset", "settle", "redraw", "glass":
			a, err := steps[name](w, yamlfile.Node{})
			return Step{n.Place(), a}, err
		}
		if slices.Contains(stepNames(), name) {
			return Step{}, n.Errorf("%s needs a value: write %s: …", name, name)
		}
		return Step{}, n.Errorf("unknown step %q%s", name, yamlfile.Among(name, stepNames()))
	}
	pairs, err := n.Map()
	if err != nil {
		return Step{}, err
	}
	p := pairs[0]
	read, ok := steps[p.Key.Text()]
	if !ok {
		return Step{}, p.Key.Errorf("unknown step %q%s", p.Key.Text(), yamlfile.Among(p.Key.Text(), stepNames()))
	}
	if len(pairs) > 1 {
		return Step{}, pairs[1].Key.Errorf("one step, one dash: %q belongs on a line of its own", pairs[1].Key.Text())
	}
	if p.Value.IsNull() {
		p.Value = yamlfile.Node{}
		if name := p.Key.Text(); !slices.Contains([]string{"reset", "settle", "redraw", "glass"}, name) {
			return Step{}, p.Key.Errorf("%s needs a value", name)
		}
	}
	a, err := read(w, p.Value)
	return Step{p.Key.Place(), a}, err
}

func readReset(_ *Walk, n yamlfile.Node) (Action, error) {
	if n.Valid() {
		return nil, n.Errorf("reset takes no value")
	}
	return ResetDevice{}, nil
}

func readWait(_ *Walk, n yamlfile.Node) (Action, error) {
	d, err := n.Duration(0, time.Hour)
	return Wait{d}, err
}

func readSettle(_ *Walk, n yamlfile.Node) (Action, error) { return settleOf(n) }

// settleOf reads nothing, a latest time, or both times.
func settleOf(n yamlfile.Node) (Settle, error) {
	s := Settle{defaultStill, defaultLatest}
	if !n.Valid() {
		return s, nil
	}
	var err error
	if !n.IsMap() {
		if s.Latest, err = n.Duration(0, longest); err != nil {
			return s, err
		}
		s.Still = min(s.Still, s.Latest)
		return s, nil
	}
	err = n.Fields(map[string]func(yamlfile.Node) error{
		"still":  func(v yamlfile.Node) (err error) { s.Still, err = v.Duration(0, longest); return err },
		"latest": func(v yamlfile.Node) (err error) { s.Latest, err = v.Duration(0, longest); return err },
	})
	if err == nil && s.Still > s.Latest {
		err = n.Errorf("it cannot be still for %v when it is looked at after %v at the latest", s.Still, s.Latest)
	}
	return s, err
}

func clockTime(n yamlfile.Node) (time.Time, error) {
	for _, layout := range []string{"2006-01-02T15:04:05", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02"} {
		if t, err := time.Parse(layout, n.Text()); err == nil {
			return t, nil
		}
	}
	return time.Time{}, n.Errorf("expected a time on the device's clock such as 2031-05-04T09:30:00, or hold, or run; found %q", n.Text())
}

func readClock(_ *Walk, n yamlfile.Node) (Action, error) {
	var c Clock
	if !n.IsMap() {
		text, err := n.Scalar()
		if err != nil {
			return nil, err
		}
		switch text {
		case "hold":
			return Clock{Hold: true}, nil
		case "run":
			return Clock{Run: true}, nil
		}
		c.Set, err = clockTime(n)
		return c, err
	}
	err := n.Fields(map[string]func(yamlfile.Node) error{
		"set": func(v yamlfile.Node) (err error) { c.Set, err = clockTime(v); return err },
		"step": func(v yamlfile.Node) (err error) {
			c.Step, err = v.Duration(time.Millisecond, 365*24*time.Hour)
			return err
		},
		"run": func(v yamlfile.Node) error {
			c.Run = v.Text() == "true" || v.Text() == "yes"
			if !c.Run && v.Text() != "false" && v.Text() != "no" {
				return v.Errorf("expected true or false, found %q", v.Text())
			}
			return nil
		},
	})
	if err == nil && c.Set.IsZero() == (c.Step == 0) {
		err = n.Errorf("clock takes either set or step")
	}
	return c, err
}

func readFeed(_ *Walk, n yamlfile.Node) (Action, error) {
	pairs, err := n.Map()
	if err != nil {
		return nil, err
	}
	var f Feed
	for _, p := range pairs {
		v := Value{Name: p.Key.Text(), at: p.Key.Place()}
		items := []yamlfile.Node{p.Value}
		if p.Value.IsList() {
			if items, err = p.Value.List(); err != nil {
				return nil, err
			}
		}
		var texts []string
		for _, item := range items {
			text, err := item.Scalar()
			if err != nil {
				return nil, err
			}
			if p.Value.IsList() && strings.Contains(text, "\n") {
				return nil, item.Errorf("an item of a list may not hold a line break")
			}
			texts = append(texts, text)
		}
		v.Text = strings.Join(texts, "\n")
		f.Values = append(f.Values, v)
	}
	return f, nil
}

func readLog(_ *Walk, n yamlfile.Node) (Action, error) {
	text, err := n.Scalar()
	if err == nil && strings.Trim(text, "*") == "" {
		err = n.Errorf("log needs some text of the line")
	}
	return Log{text}, err
}

func readWithin(_ *Walk, n yamlfile.Node) (Action, error) {
	d, err := n.Duration(time.Millisecond, longest-defaultStill)
	return Within{d}, err
}
