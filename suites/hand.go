package suites

import (
	"context"
	"fmt"
	"time"

	"github.com/fascia-bench/fascia/capture/link"
)

// hand asks a person to do something and waits until the picture has changed and is still again. It
// is the only check of the real touch driver and keys: injected input does not pass through them.
func (d *driver) hand(ctx context.Context, h Hand) error {
	before, err := d.dev.Look(ctx, link.LookOptions{Still: defaultStill, Latest: defaultLatest})
	if err != nil {
		return err
	}
	d.touched()
	d.ask(h.Ask)
	for until := d.dev.Now() + h.Patience; d.dev.Now() < until; {
		now, err := d.dev.Look(ctx, link.LookOptions{})
		if err != nil {
			return err
		}
		if now.Hash != before.Hash {
			_, err := d.dev.Settle(ctx, defaultStill, defaultLatest)
			return err
		}
		if err := d.dev.Wait(ctx, 100*time.Millisecond); err != nil {
			return err
		}
	}
	return fmt.Errorf("nothing changed on the screen within %v", h.Patience)
}
