package suites

import (
	"context"
	"fmt"
	"image"
	"strings"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/bench/yamlfile"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/suites/record"
)

// noted is what a steady step found first.
type noted struct {
	frame *capture.Frame
	gauge int64
}

func readSteady(_ *Walk, n yamlfile.Node) (Action, error) {
	var s Steady
	name := func(gauge bool) func(yamlfile.Node) error {
		return func(v yamlfile.Node) (err error) {
			if s.Name != "" {
				return v.Errorf("steady takes either a gauge or a screen")
			}
			s.Gauge = gauge
			s.Name, err = v.Scalar()
			if err == nil && strings.TrimSpace(s.Name) == "" {
				err = v.Errorf("what is steady needs a name")
			}
			return err
		}
	}
	err := n.Fields(map[string]func(yamlfile.Node) error{"gauge": name(true), "screen": name(false)})
	if err == nil && s.Name == "" {
		err = n.Errorf("steady needs gauge: NAME, or screen: NAME")
	}
	return s, err
}

func (s Steady) what() string {
	if s.Gauge {
		return "steady gauge " + s.Name
	}
	return "steady screen " + s.Name
}

// expectSteady holds what is now against what was at the first step of that name: a gauge that a tour
// of screens leaves lower each time, a screen that looks otherwise by another road.
func (d *driver) expectSteady(ctx context.Context, s Steady, line int) error {
	var now noted
	if s.Gauge {
		figures, err := gauges(ctx, d.dev)
		if err != nil {
			return err
		}
		v, ok := figures[s.Name]
		if !ok {
			return fmt.Errorf("the device has no gauge %q", s.Name)
		}
		now.gauge = v
	} else {
		shot, err := d.dev.Look(ctx, link.LookOptions{Still: defaultStill, Latest: defaultLatest})
		if err != nil {
			return err
		}
		now.frame = shot.Frame
	}
	first, seen := d.steady[s]
	if !seen {
		if d.steady == nil {
			d.steady = map[Steady]noted{}
		}
		d.steady[s] = now
		return nil
	}
	if why := first.unlike(now); why != "" {
		d.expect(s.what(), line, record.Missed, why)
		return nil
	}
	d.expect(s.what(), line, record.Met, "")
	return nil
}

// unlike says how two moments differ, "" if they do not.
func (n noted) unlike(now noted) string {
	if n.frame == nil {
		if n.gauge == now.gauge {
			return ""
		}
		return fmt.Sprintf("it was %d and is %d", n.gauge, now.gauge)
	}
	if n.frame.SameShape(now.frame) && capture.Changed(n.frame, now.frame) == (image.Rectangle{}) {
		return ""
	}
	res := compare.Compare(n.frame.RGBA(), now.frame.RGBA(), compare.Options{})
	var says []string
	for _, c := range res.Causes {
		says = append(says, c.Says)
	}
	return strings.Join(says, "\n")
}
