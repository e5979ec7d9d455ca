package author

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/fascia-bench/fascia/capture/link"
)

// A Device is what watching needs of the link.
type Device interface {
	Observe(ctx context.Context, on bool) error
	Observed(ctx context.Context, after uint16) ([]link.Observation, error)
	Settle(ctx context.Context, still, latest time.Duration) (moving bool, err error)
	Listen(ctx context.Context, wait time.Duration) error
	Now() time.Duration
}

// A Recording is what somebody did on a device, and when its picture changed.
type Recording struct {
	// Key is the record key by USB HID usage page and id; zero where there is none.
	KeyPage, KeyID uint16

	start   time.Duration
	events  []observed
	changes []time.Duration
	marks   []mark
	lost    int
}

type mark struct {
	at   time.Duration
	name string
}

// Mark notes that the panel is to be looked at here. Without a name the look is numbered.
func (r *Recording) Mark(at time.Duration, name string) { r.marks = append(r.marks, mark{at, name}) }

// Looks is how many looks there are.
func (r *Recording) Looks() int { return len(r.marks) }

// How the device is asked. A change of the picture shows in how long the device takes to answer that it
// has been still for so long. It keeps 8 events, which a finger on the glass fills in 160 ms.
const (
	restReal, stillReal = 20 * time.Millisecond, 80 * time.Millisecond
	restTwin, stillTwin = 8 * time.Millisecond, 16 * time.Millisecond

	quick = 2 * time.Millisecond // more than a step takes that asks the device nothing
)

// Watch reports what a person does on the device until step says that it is over. step is called between
// questions to the device. On a twin, whose time stands while nobody asks, it is asked more finely.
func (r *Recording) Watch(ctx context.Context, d Device, twin bool, step func() (over bool, err error)) error {
	if err := d.Observe(ctx, true); err != nil {
		if errors.Is(err, link.ErrUnsupported) {
			return fmt.Errorf("this device does not report what its user does: its firmware must call fascia_observed: %w", err)
		}
		return err
	}
	rest, still := restReal, stillReal
	if twin {
		rest, still = restTwin, stillTwin
	}
	var known uint16
	var busy time.Duration // when the last picture was taken
	var late time.Duration // host time less device time, at the least
	first := true
	var raw []link.Observation
	r.start = d.Now()
	for {
		before := d.Now()
		over, err := step()
		if d.Now()-before > quick { // a picture was taken, after which the device counts its rest anew
			busy = d.Now()
		}
		if err != nil {
			return err
		}
		if !over {
			if err := d.Listen(ctx, rest); err != nil {
				return err
			}
		}
		asked := d.Now()
		moving, err := d.Settle(ctx, still, still)
		if err != nil {
			return err
		}
		now := d.Now()
		switch {
		case busy > 0 && now-still < busy+quick:
		case moving:
			r.changes = append(r.changes, now)
		case now-asked >= still/2:
			r.changes = append(r.changes, now-still)
		}
		got, err := d.Observed(ctx, known)
		if err != nil {
			return err
		}
		for _, o := range got {
			if o.Number > known+1 {
				r.lost += int(o.Number - known - 1)
			}
			known = o.Number
			if off := d.Now() - o.At; first || off < late {
				late, first = off, false
			}
			raw = append(raw, o)
		}
		if over {
			break
		}
	}
	for _, o := range raw {
		r.events = append(r.events, observed{o.At + late, o.Event})
	}
	return d.Observe(context.WithoutCancel(ctx), false)
}
