package suites

import (
	"image"
	"strconv"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture/bench/yamlfile"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/golden"
)

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
		"allow":  func(v yamlfile.Node) (err error) { l.Allow, err = w.readAllow(v); return err },
		"aside":  func(v yamlfile.Node) (err error) { l.Aside, err = readAside(v); return err },
		"note":   func(v yamlfile.Node) (err error) { l.Note, err = v.Scalar(); return err },
		"screen": func(v yamlfile.Node) (err error) {
			if l.Screen, err = v.Scalar(); err != nil {
				return err
			}
			if _, err := golden.FileName(l.Screen); err != nil {
				return v.Errorf("%v", err)
			}
			return nil
		},
		"language": func(v yamlfile.Node) (err error) { l.Language, err = v.Scalar(); return err },
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
		rect, err := w.area(p.Key)
		if err != nil {
			return nil, err
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

// area finds the area that a node names.
func (w *Walk) area(n yamlfile.Node) (image.Rectangle, error) {
	if rect, ok := w.Areas[n.Text()]; ok {
		return rect, nil
	}
	var names []string
	for a := range w.Areas {
		names = append(names, a)
	}
	return image.Rectangle{}, n.Errorf("no area is called %q in this walk%s", n.Text(), yamlfile.Among(n.Text(), names))
}

// readAllow reads tolerances: a list of {colour-below: 2, area: name, why: "…"}, or smaller-than, or
// edges-only.
func (w *Walk) readAllow(n yamlfile.Node) ([]compare.Tolerance, error) {
	items, err := n.List()
	if err != nil {
		return nil, err
	}
	var list []compare.Tolerance
	for _, item := range items {
		var t compare.Tolerance
		kinds := 0
		err := item.Fields(map[string]func(yamlfile.Node) error{
			"area": func(v yamlfile.Node) (err error) { t.Area, err = w.area(v); return err },
			"why":  func(v yamlfile.Node) (err error) { t.Reason, err = v.Scalar(); return err },
			"colour-below": func(v yamlfile.Node) (err error) {
				kinds++
				if t.ColourBelow, err = strconv.ParseFloat(v.Text(), 64); err != nil || t.ColourBelow <= 0 || t.ColourBelow > 100 {
					return v.Errorf("a colour difference (CIEDE2000) is a number above 0, at most 100, not %q", v.Text())
				}
				return nil
			},
			"smaller-than": func(v yamlfile.Node) (err error) { kinds++; t.SmallerThan, err = v.Int(1, 1<<20); return err },
			"edges-only": func(v yamlfile.Node) error {
				kinds++
				if t.EdgesOnly = v.Text() == "yes" || v.Text() == "true"; !t.EdgesOnly {
					return v.Errorf("edges-only is yes, or left out")
				}
				return nil
			},
		})
		if err != nil {
			return nil, err
		}
		if kinds != 1 {
			return nil, item.Errorf("a tolerance is one of colour-below, smaller-than and edges-only")
		}
		if strings.TrimSpace(t.Reason) == "" {
			return nil, item.Errorf("why is that allowed? Write the reason: why: \"…\"")
		}
		list = append(list, t)
	}
	return list, nil
}

func readAside(n yamlfile.Node) (*Aside, error) {
	a := &Aside{}
	err := n.Fields(map[string]func(yamlfile.Node) error{
		"until": func(v yamlfile.Node) (err error) {
			if a.Until, err = time.Parse(time.DateOnly, v.Text()); err != nil {
				return v.Errorf("expected a day such as 2031-06-01, found %q", v.Text())
			}
			return nil
		},
		"why": func(v yamlfile.Node) (err error) { a.Why, err = v.Scalar(); return err },
	})
	if err == nil && (a.Until.IsZero() || strings.TrimSpace(a.Why) == "") {
		err = n.Errorf("aside needs until: a day, and why: a reason")
	}
	return a, err
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
		w.areaAt[p.Key.Text()] = p.Value.Place()
	}
	return nil
}
