package suites

import (
	"context"
	"time"

	"github.com/fascia-bench/fascia/capture/link"
)

// inputs gives the device events; those after the first follow at times that the device keeps.
func (d *driver) inputs(ctx context.Context, list []link.Event) error {
	d.mark = d.log.count()
	d.alive.gave(d.dev)
	for _, e := range list {
		if err := d.dev.Input(ctx, e); err != nil {
			return err
		}
	}
	d.input = d.dev.Now()
	return nil
}

// events makes the device's events of a step.
func events(do Action) []link.Event {
	touch := func(kind link.EventKind, x, y int, after time.Duration) link.Event {
		return link.Event{Kind: kind, A: x, B: y, After: after}
	}
	switch a := do.(type) {
	case Tap:
		return []link.Event{touch(link.TouchDown, a.Spot.X, a.Spot.Y, 0), touch(link.TouchUp, a.Spot.X, a.Spot.Y, tapFor)}
	case HoldTouch:
		return []link.Event{touch(link.TouchDown, a.Spot.X, a.Spot.Y, 0), touch(link.TouchUp, a.Spot.X, a.Spot.Y, a.For)}
	case Drag:
		list := []link.Event{touch(link.TouchDown, a.From.X, a.From.Y, 0)}
		n := max(2, int(a.Over/moveEvery))
		var gone time.Duration
		for i := 1; i <= n; i++ {
			t := a.Over * time.Duration(i) / time.Duration(n)
			list = append(list, touch(link.TouchMove, a.From.X+(a.To.X-a.From.X)*i/n, a.From.Y+(a.To.Y-a.From.Y)*i/n, t-gone))
			gone = t
		}
		return append(list, touch(link.TouchUp, a.To.X, a.To.Y, moveEvery))
	case Key:
		var list []link.Event
		for _, u := range a.usages {
			list = append(list, link.Event{Kind: link.KeyDown, A: int(u.page), B: int(u.id)})
		}
		for i := len(a.usages) - 1; i >= 0; i-- {
			e := link.Event{Kind: link.KeyUp, A: int(a.usages[i].page), B: int(a.usages[i].id)}
			if i == len(a.usages)-1 {
				e.After = tapFor
			}
			list = append(list, e)
		}
		return list
	case Roll:
		return []link.Event{{Kind: link.Roll, A: a.By}}
	case Type:
		return []link.Event{{Kind: link.Text, Text: a.Text}}
	case Turn:
		step, n := 1, a.By
		if n < 0 {
			step, n = -1, -n
		}
		list := make([]link.Event, n)
		for i := range list {
			list[i] = link.Event{Kind: link.Turn, A: step, C: byte(a.Knob)}
			if i > 0 {
				list[i].After = detentEvery
			}
		}
		return list
	}
	return nil
}
