package suites

import (
	"image"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture/bench/yamlfile"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/golden"
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
	}
}

func stepNames() []string {
	var names []string
	for name := range steps {
		names = append(names, name)
	}
	return names
}

// readStep reads one item of a walk's steps: a name alone, or a name with what it needs.
func (w *Walk) readStep(n yamlfile.Node) (Step, error) {
	if !n.IsMap() {
		name, err := n.Scalar()
		if err != nil {
			return Step{}, err
		}
		switch name {
		case "reset", "settle":
			a, err := steps[name](w, yamlfile.Node{})
			return Step{n, a}, err
		}
		if _, ok := steps[name]; ok {
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
		if name := p.Key.Text(); name != "reset" && name != "settle" {
			return Step{}, p.Key.Errorf("%s needs a value", name)
		}
	}
	a, err := read(w, p.Value)
	return Step{p.Key, a}, err
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
		v := Value{Name: p.Key.Text(), at: p.Key}
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

func readSpot(n yamlfile.Node) (spot, error) {
	xy, err := n.Ints(0, link.MaxSide, "x", "y")
	if err != nil {
		return spot{}, err
	}
	return spot{xy[0], xy[1], n}, nil
}

func readTap(_ *Walk, n yamlfile.Node) (Action, error) {
	s, err := readSpot(n)
	return Tap{s}, err
}

func readHold(_ *Walk, n yamlfile.Node) (Action, error) {
	h := HoldTouch{For: defaultHold}
	if n.IsList() {
		s, err := readSpot(n)
		h.Spot = s
		return h, err
	}
	err := n.Fields(map[string]func(yamlfile.Node) error{
		"at":  func(v yamlfile.Node) (err error) { h.Spot, err = readSpot(v); return err },
		"for": func(v yamlfile.Node) (err error) { h.For, err = v.Duration(time.Millisecond, longest); return err },
	})
	if err == nil && !h.Spot.at.Valid() {
		err = n.Errorf("hold needs at: [x, y]")
	}
	return h, err
}

func readDrag(_ *Walk, n yamlfile.Node) (Action, error) {
	d := Drag{Over: defaultDrag}
	err := n.Fields(map[string]func(yamlfile.Node) error{
		"from": func(v yamlfile.Node) (err error) { d.From, err = readSpot(v); return err },
		"to":   func(v yamlfile.Node) (err error) { d.To, err = readSpot(v); return err },
		"over": func(v yamlfile.Node) (err error) { d.Over, err = v.Duration(time.Millisecond, longest); return err },
	})
	if err == nil && (!d.From.at.Valid() || !d.To.at.Valid()) {
		err = n.Errorf("drag needs from: [x, y] and to: [x, y]")
	}
	return d, err
}

func readKey(_ *Walk, n yamlfile.Node) (Action, error) {
	names := []yamlfile.Node{n}
	if n.IsList() {
		var err error
		if names, err = n.List(); err != nil {
			return nil, err
		}
	}
	var k Key
	for _, name := range names {
		text, err := name.Scalar()
		if err != nil {
			return nil, err
		}
		u, ok := keyTable()[text]
		if !ok {
			return nil, name.Errorf("unknown key %q%s", text, nearKeys(text))
		}
		k.Names, k.usages, k.at = append(k.Names, text), append(k.usages, u), append(k.at, name)
	}
	if len(k.Names) == 0 || len(k.Names) > 8 {
		return nil, n.Errorf("a chord has one to eight keys")
	}
	return k, nil
}

// nearKeys names the key that may have been meant; all of them would fill the screen.
func nearKeys(text string) string {
	s := yamlfile.Among(text, keyNames())
	if i := strings.Index(s, "? "); i > 0 {
		return s[:i+1]
	}
	return ": names are those of the USB HID usage tables in lower case, such as enter, escape, left, page_up, f1, kp_5"
}

func readType(_ *Walk, n yamlfile.Node) (Action, error) {
	text, err := n.Scalar()
	if err == nil && text == "" {
		err = n.Errorf("type needs a text")
	}
	return Type{text}, err
}

func readTurn(_ *Walk, n yamlfile.Node) (Action, error) {
	var t Turn
	var err error
	if n.IsMap() {
		err = n.Fields(map[string]func(yamlfile.Node) error{
			"by":   func(v yamlfile.Node) (err error) { t.By, err = v.Int(-1000, 1000); return err },
			"knob": func(v yamlfile.Node) (err error) { t.Knob, err = v.Int(0, 255); return err },
		})
	} else {
		t.By, err = n.Int(-1000, 1000)
	}
	if err == nil && t.By == 0 {
		err = n.Errorf("turn by how many detents? Clockwise is positive")
	}
	return t, err
}

func readRoll(_ *Walk, n yamlfile.Node) (Action, error) {
	by, err := n.Int(-1000, 1000)
	if err == nil && by == 0 {
		err = n.Errorf("roll by how many steps?")
	}
	return Roll{by}, err
}

func readExec(w *Walk, n yamlfile.Node) (Action, error) {
	name, err := n.Scalar()
	if err != nil {
		return nil, err
	}
	if _, ok := w.commands[name]; !ok {
		var names []string
		for c := range w.commands {
			names = append(names, c)
		}
		return nil, n.Errorf("the bench has no command %q%s; exec calls what bench.yaml names under commands, and nothing else", name, yamlfile.Among(name, names))
	}
	return Exec{name}, nil
}

func readLook(w *Walk, n yamlfile.Node) (Action, error) {
	l := TakeLook{Settle: Settle{defaultStill, defaultLatest}}
	name := func(v yamlfile.Node) error {
		text, err := v.Scalar()
		if err != nil {
			return err
		}
		l.Name = text
		if l.File, err = golden.FileName(text); err != nil {
			return v.Errorf("%v", err)
		}
		return w.addLook(l, v)
	}
	if !n.IsMap() {
		return l, name(n)
	}
	var at yamlfile.Node
	err := n.Fields(map[string]func(yamlfile.Node) error{
		"name":   func(v yamlfile.Node) error { at = v; return nil },
		"settle": func(v yamlfile.Node) (err error) { l.Settle, err = settleOf(v); return err },
		"ignore": func(v yamlfile.Node) (err error) { l.Ignore, err = w.readIgnore(v); return err },
	})
	if err == nil && !at.Valid() {
		err = n.Errorf("the look has no name")
	}
	if err == nil {
		err = name(at)
	}
	return l, err
}

// readIgnore reads area: "reason" pairs.
func (w *Walk) readIgnore(n yamlfile.Node) ([]ignored, error) {
	pairs, err := n.Map()
	if err != nil {
		return nil, err
	}
	var list []ignored
	for _, p := range pairs {
		name := p.Key.Text()
		rect, ok := w.Areas[name]
		if !ok {
			var names []string
			for a := range w.Areas {
				names = append(names, a)
			}
			return nil, p.Key.Errorf("no area is called %q in this walk%s", name, yamlfile.Among(name, names))
		}
		why := ""
		if !p.Value.IsNull() {
			if why, err = p.Value.Scalar(); err != nil {
				return nil, err
			}
		}
		if strings.TrimSpace(why) == "" {
			return nil, p.Key.Errorf("why is %q ignored? Write the reason: %s: \"…\"", name, name)
		}
		list = append(list, ignored{name, rect, why})
	}
	return list, nil
}

func (w *Walk) readAreas(n yamlfile.Node) error {
	pairs, err := n.Map()
	if err != nil {
		return err
	}
	for _, p := range pairs {
		v, err := p.Value.Ints(0, link.MaxSide, "x", "y", "width", "height")
		if err != nil {
			return err
		}
		if v[2] == 0 || v[3] == 0 {
			return p.Value.Errorf("area %q has no extent", p.Key.Text())
		}
		w.Areas[p.Key.Text()] = image.Rect(v[0], v[1], v[0]+v[2], v[1]+v[3])
		w.areaAt[p.Key.Text()] = p.Value
	}
	return nil
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
