package suites

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/fascia-bench/fascia/capture/bench/yamlfile"
	"github.com/fascia-bench/fascia/compare/photo"
	"github.com/fascia-bench/fascia/golden"
)

var lampColour = regexp.MustCompile(`^#[0-9a-f]{6}$`)

// readLamp reads names of lamps with on, off or a colour.
func readLamp(_ *Walk, n yamlfile.Node) (Action, error) {
	pairs, err := n.Map()
	if err != nil {
		return nil, err
	}
	var l Lamp
	for _, p := range pairs {
		want := strings.ToLower(p.Value.Text())
		if want != "on" && want != "off" && !lampColour.MatchString(want) && !slices.Contains(photo.Colours, want) {
			return nil, p.Value.Errorf("a lamp is on, off, a colour such as \"#20c040\", or one of %s, not %q", strings.Join(photo.Colours, ", "), p.Value.Text())
		}
		l.Want = append(l.Want, lampState{p.Key.Text(), want})
	}
	return l, nil
}

const (
	mostPlaces   = 256 // of a sweep
	sweepSlack   = 0.01
	sweepAllowed = 0.05
)

// readSweep reads what moves a control, over which places, and how the light is to follow.
func readSweep(w *Walk, n yamlfile.Node) (Action, error) {
	s := Sweep{Still: Settle{defaultStill, defaultLatest}, at: n.Place()}
	s.Check = photo.Limits{Rises: true, Slack: sweepSlack, Tolerance: sweepAllowed}
	movers, steps := 0, 0
	var stepsAt yamlfile.Node
	span := func(to *[2]float64) func(yamlfile.Node) error {
		return func(v yamlfile.Node) error {
			items, err := v.List()
			if err != nil {
				return err
			}
			if len(items) != 2 {
				return v.Errorf("expected the least and the most light, such as [0, 0.1]")
			}
			for i, item := range items {
				if to[i], err = item.Float(-1, 1000); err != nil {
					return err
				}
			}
			if to[0] >= to[1] {
				return v.Errorf("the least light, %g, is not below the most, %g", to[0], to[1])
			}
			return nil
		}
	}
	err := n.Fields(map[string]func(yamlfile.Node) error{
		"name": func(v yamlfile.Node) (err error) {
			if s.Name, err = v.Scalar(); err == nil {
				if _, bad := golden.FileName(s.Name); bad != nil {
					err = v.Errorf("%v", bad)
				}
			}
			return err
		},
		"feed": func(v yamlfile.Node) (err error) { movers++; s.Feed, err = v.Scalar(); return err },
		"turn": func(v yamlfile.Node) (err error) {
			movers++
			if s.Turn, err = v.Int(-1000, 1000); err == nil && s.Turn == 0 {
				err = v.Errorf("a turn by 0 detents moves nothing")
			}
			return err
		},
		"key": func(v yamlfile.Node) error {
			movers++
			a, err := readKey(w, v)
			if err == nil {
				s.Key = a.(Key)
			}
			return err
		},
		"over": func(v yamlfile.Node) error {
			items, err := v.List()
			if err != nil {
				return err
			}
			for _, item := range items {
				x, err := item.Float(-1e6, 1e6)
				if err != nil {
					return err
				}
				if k := len(s.Over); k > 0 && x <= s.Over[k-1] {
					return item.Errorf("the places of a sweep rise: %g does not follow %g", x, s.Over[k-1])
				}
				s.Over, s.texts = append(s.Over, x), append(s.texts, item.Text())
			}
			if len(items) < 2 || len(items) > mostPlaces {
				return v.Errorf("a sweep has 2 to %d places, not %d", mostPlaces, len(items))
			}
			return nil
		},
		"steps":     func(v yamlfile.Node) (err error) { stepsAt = v; steps, err = v.Int(1, mostPlaces-1); return err },
		"settle":    func(v yamlfile.Node) (err error) { s.Still, err = settleOf(v); return err },
		"first":     span(&s.Check.First),
		"last":      span(&s.Check.Last),
		"tolerance": func(v yamlfile.Node) (err error) { s.Check.Tolerance, err = v.Float(0.001, 1); return err },
		"rises": func(v yamlfile.Node) error {
			s.Check.Rises = v.Text() == "yes" || v.Text() == "true"
			if !s.Check.Rises && v.Text() != "no" && v.Text() != "false" {
				return v.Errorf("rises is yes or no, not %q", v.Text())
			}
			return nil
		},
		"curve": func(v yamlfile.Node) (err error) { s.Check.Golden, err = readCurve(v); return err },
	})
	if err != nil {
		return s, err
	}
	switch {
	case s.Name == "":
		return s, n.Errorf("the sweep has no name")
	case movers != 1:
		return s, n.Errorf("a sweep moves its control by one of feed, turn and key")
	case s.Feed != "" && (len(s.Over) == 0 || steps != 0):
		return s, n.Errorf("a sweep by a feed needs over, the values: over: [0, 25, 50, 75, 100]")
	case s.Feed == "" && (steps == 0 || len(s.Over) != 0):
		return s, n.Errorf("a sweep by turn or key needs steps, how often it is done")
	}
	by := s.Turn
	if len(s.Key.Names) > 0 {
		by = 1
	}
	for i := 0; s.Feed == "" && i <= steps; i++ { // places are counted from where the control stands
		s.Over, s.texts = append(s.Over, float64(i*max(by, -by))), append(s.texts, "")
	}
	if c := s.Check.Golden; c != nil && (c[0].At > s.Over[0] || c[len(c)-1].At < s.Over[len(s.Over)-1]) {
		at := stepsAt
		if !at.Valid() {
			at = n
		}
		return s, at.Errorf("the curve reaches from %g to %g, the sweep from %g to %g", c[0].At, c[len(c)-1].At, s.Over[0], s.Over[len(s.Over)-1])
	}
	return s, nil
}

// readCurve reads light by place.
func readCurve(n yamlfile.Node) ([]photo.Step, error) {
	pairs, err := n.Map()
	if err != nil {
		return nil, err
	}
	var out []photo.Step
	for _, p := range pairs {
		at, err := strconv.ParseFloat(p.Key.Text(), 64)
		if err != nil {
			return nil, p.Key.Errorf("expected a place of the control, a number, found %q", p.Key.Text())
		}
		light, err := p.Value.Float(-1, 1000)
		if err != nil {
			return nil, err
		}
		if k := len(out); k > 0 && at <= out[k-1].At {
			return nil, p.Key.Errorf("the places of a curve rise: %g does not follow %g", at, out[k-1].At)
		}
		out = append(out, photo.Step{At: at, Light: light})
	}
	if len(out) < 2 {
		return nil, n.Errorf("a curve has two places at least: {0: 0.02, 100: 0.98}")
	}
	return out, nil
}

func readGlass(_ *Walk, n yamlfile.Node) (Action, error) {
	var g Glass
	if !n.Valid() {
		return g, nil
	}
	err := n.Fields(map[string]func(yamlfile.Node) error{
		"uniformity": func(v yamlfile.Node) (err error) { g.Uniformity, err = v.Float(0.01, 1); return err },
	})
	return g, err
}
