package suites

import (
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture/bench/yamlfile"
	"github.com/fascia-bench/fascia/capture/link"
)

func readSpot(n yamlfile.Node) (spot, error) {
	xy, err := n.Ints(0, link.MaxSide, "x", "y")
	if err != nil {
		return spot{}, err
	}
	return spot{xy[0], xy[1], n.Place()}, nil
}

func readTap(_ *Walk, n yamlfile.Node) (Action, error) {
	if n.IsMap() {
		t := TapOn{at: n.Place()}
		err := n.Fields(map[string]func(yamlfile.Node) error{
			"on": func(v yamlfile.Node) (err error) { t.at = v.Place(); t.Name, err = v.Scalar(); return err },
		})
		return t, err
	}
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
		k.Names, k.usages, k.at = append(k.Names, text), append(k.usages, u), append(k.at, name.Place())
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
	if _, ok := w.commands[name]; !ok && w.commands != nil {
		var names []string
		for c := range w.commands {
			names = append(names, c)
		}
		return nil, n.Errorf("the bench has no command %q%s; exec calls what bench.yaml names under commands, and nothing else", name, yamlfile.Among(name, names))
	}
	return Exec{name}, nil
}
