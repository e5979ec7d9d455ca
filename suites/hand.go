package suites

import (
	"context"
	"fmt"
	"time"
)

// hand asks a person to do something and waits until the picture has changed and is still again. It
// is the only check of the real touch driver and keys: injected input does not pass through them.
func (d *driver) hand(ctx context.Context, h Hand) error {
	// What a look showed is held until the next action, which waiting is.
	if err := d.dev.Wait(ctx, time.Millisecond); err != nil {
		return err
	}
	before, _, err := d.dev.Glance(ctx, defaultStill, defaultLatest)
	if err != nil {
		return err
	}
	d.touched()
	if err := d.ask(ctx, h.Ask); err != nil {
		return err
	}
	for until := d.dev.Now() + h.Patience; d.dev.Now() < until; {
		if err := d.dev.Wait(ctx, 100*time.Millisecond); err != nil {
			return err
		}
		now, _, err := d.dev.Glance(ctx, 0, 0)
		if err != nil {
			return err
		}
		if now != before {
			_, err := d.dev.Settle(ctx, defaultStill, defaultLatest)
			return err
		}
	}
	return fmt.Errorf("nothing changed on the screen within %v", h.Patience)
}
