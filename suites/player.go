package suites

import (
	"context"
	"fmt"
	"image"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/bench/yamlfile"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/suites/record"
)

// A Player takes steps one by one on a device, exactly as a walk would: for who makes up the steps as
// it goes, and writes a walk of those that matter.
type Player struct {
	d *driver
	// Missed are the expectations that were missed since Begin.
	Missed []record.Expectation
}

// Play prepares to take steps on a device. Lines that the firmware prints are to be handed to Heard.
// There are no goldens, no commands and nobody to lend a hand: looks, exec and hand are refused.
func Play(dev Device, dies []string) *Player {
	p := &Player{}
	p.d = &driver{dev: dev, log: &logBook{dies: dies},
		note:   func(string) {},
		golden: func(string) image.Image { return nil },
		expect: func(what string, line int, r record.Result, why string) {
			if r == record.Missed {
				p.Missed = append(p.Missed, record.Expectation{What: what, Line: line, Result: r, Why: why})
			}
		}}
	return p
}

// Heard takes a line that the firmware printed.
func (p *Player) Heard(l link.LogLine) { p.d.log.add(l) }

// Begin starts the device anew, as a walk begins.
func (p *Player) Begin(ctx context.Context) error {
	p.forget()
	return p.d.begin(ctx, &Walk{})
}

// Back forgets what happened since a moment to which the device was brought back.
func (p *Player) Back() {
	p.forget()
	p.d.log.death, p.d.steady = "", nil
	p.d.touched()
}

func (p *Player) forget() {
	p.d.path, p.Missed = nil, nil
	p.d.log.lines = p.d.log.lines[:0]
	p.d.mark = 0
}

// Take takes a step. An error means that the walk would have broken off there.
func (p *Player) Take(ctx context.Context, s Step) error {
	switch s.Do.(type) {
	case TakeLook, Exec, Hand:
		return fmt.Errorf("%s: a step of this kind needs a whole run", s.Do.Says().Says)
	}
	return p.d.take(ctx, s)
}

// Lines are what the firmware printed since the last input or Back.
func (p *Player) Lines() []link.LogLine { return p.d.log.lines[min(p.d.mark, len(p.d.log.lines)):] }

// Gauges are the figures that the device names, if it does.
func (p *Player) Gauges(ctx context.Context) (map[string]int64, error) { return gauges(ctx, p.d.dev) }

// ReadSteps reads steps as a walk has them, from the text of a YAML list.
func ReadSteps(name, text string) ([]Step, error) {
	n, err := yamlfile.Parse(name, []byte("walk: "+"steps\nsteps:\n"+text))
	if err != nil {
		return nil, err
	}
	w := newWalk(name, nil)
	err = n.Fields(map[string]func(yamlfile.Node) error{
		"walk":  func(yamlfile.Node) error { return nil },
		"steps": func(v yamlfile.Node) error { return w.readSteps(newReader(&bench.Bench{Dir: "."}), v) },
	})
	return w.Steps, err
}

// Words are the values that walks feed and the texts that they type: what the device is known to take.
func Words(walks []*Walk) (feeds []Feed, texts []string) {
	had := map[string]bool{}
	for _, w := range walks {
		for ; w != nil; w = w.From {
			for _, s := range w.Steps {
				switch a := s.Do.(type) {
				case Feed:
					if key := a.Says().Says; !had[key] {
						had[key] = true
						feeds = append(feeds, a)
					}
				case Type:
					if !had["type "+a.Text] {
						had["type "+a.Text] = true
						texts = append(texts, a.Text)
					}
				}
			}
		}
	}
	return feeds, texts
}
