package suites

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math/rand/v2"
	"path/filepath"
	"strings"

	"github.com/onsi/ginkgo/v2"

	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/suites/record"
)

// checkTour finds what touring walks needs.
func (p *Plan) checkTour() error {
	if p.back == nil {
		return fmt.Errorf("%s does not say how the device comes back to where walks start without a reset: name a file of steps under return", p.Bench.File)
	}
	return nil
}

// describeTour walks the walks once more, in an order drawn from a seed and on a device that is not
// reset between them, and holds each look against the fresh one of this run. Faults depend on history:
// on caches, on the order of visits, on what was drawn before.
func (s *session) describeTour() {
	for _, i := range rand.New(rand.NewPCG(s.Shuffle, 0)).Perm(len(s.plan.Walks)) {
		w := s.plan.Walks[i]
		ginkgo.It(w.Name+" toured", ginkgo.Label(w.Labels...), func(ctx ginkgo.SpecContext) {
			if s.over {
				ginkgo.Skip("the run stopped at a failure")
			}
			d := s.driver(w)
			tell := d.expect
			d.expect = func(string, int, record.Result, string) {} // they were told of the first time
			if err := s.tour(ctx, d, w, tell); err != nil {
				tell(fmt.Sprintf("toured, seed %d", s.Shuffle), 0, record.Missed, "it broke off: "+err.Error())
				ginkgo.Fail(err.Error())
			}
		})
	}
}

func (s *session) tour(ctx context.Context, d *driver, w *Walk, tell func(string, int, record.Result, string)) error {
	d.start = s.dev.Now()
	for _, step := range s.plan.back.Steps {
		if err := d.take(ctx, step); err != nil {
			return err
		}
	}
	if err := d.lead(ctx, w.From); err != nil {
		return err
	}
	return d.through(ctx, w, func(step Step, l TakeLook, shot link.Look) error {
		fresh, err := picture.Read(filepath.Join(s.RunDir, w.Slug, l.File+".png"))
		if err != nil {
			return errors.Join(errors.New("there is no fresh look to hold it against"), err)
		}
		what := fmt.Sprintf("%s toured, seed %d", l.Name, s.Shuffle)
		if says := unlike(fresh, shot.Frame.RGBA(), l); says != "" {
			tell(what, step.line(), record.Missed, says)
			return nil
		}
		tell(what, step.line(), record.Met, "")
		return nil
	})
}

// unlike says how a toured look differs from the fresh one; "" if it does not.
func unlike(fresh, toured image.Image, l TakeLook) string {
	opt := compare.Options{Tolerances: l.Allow}
	for _, ig := range l.Ignore {
		opt.Ignore = append(opt.Ignore, ig.Rect)
	}
	res := compare.Compare(fresh, toured, opt)
	if res.Same {
		return ""
	}
	says := []string{"it is not what the walk shows on a fresh device"}
	for _, c := range res.Causes {
		says = append(says, c.Says)
	}
	return strings.Join(says, "\n")
}
