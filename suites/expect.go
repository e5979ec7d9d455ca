package suites

import (
	"context"
	"fmt"
	"image"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/suites/record"
)

// expectLog waits for a line printed since the last input.
func (d *driver) expectLog(ctx context.Context, l Log, line int) error {
	what := "log " + l.Pattern
	for until := d.dev.Now() + logPatience; ; {
		for _, have := range d.log.after(d.mark) {
			if matches(l.Pattern, have.Text) {
				d.expect(what, line, record.Met, "")
				return nil
			}
		}
		if d.dev.Now() >= until {
			break
		}
		if err := d.dev.Wait(ctx, logPoll); err != nil {
			return err
		}
	}
	seen := "nothing"
	if have := d.log.after(d.mark); len(have) > 0 {
		var texts []string
		for _, h := range have[max(0, len(have)-5):] {
			texts = append(texts, fmt.Sprintf("%q", h.Text))
		}
		seen = strings.Join(texts, ", ")
	}
	d.expect(what, line, record.Missed, "since the last input the firmware printed "+seen)
	return nil
}

// matches finds a pattern in a line; * stands for any text.
func matches(pattern, line string) bool {
	for _, part := range strings.Split(pattern, "*") {
		at := strings.Index(line, part)
		if at < 0 {
			return false
		}
		line = line[at+len(part):]
	}
	return true
}

// expectWithin measures the time from the last input to the last change of the picture.
func (d *driver) expectWithin(ctx context.Context, w Within, line int) error {
	what := fmt.Sprintf("within %v", w.Time)
	gone := d.dev.Now() - d.input
	moving, err := d.dev.Settle(ctx, defaultStill, max(0, w.Time-gone)+defaultStill)
	if err != nil {
		return err
	}
	if moving {
		d.expect(what, line, record.Missed, fmt.Sprintf("the picture was still changing %v after the input", w.Time))
		return nil
	}
	d.expect(what, line, record.Met, "")
	return nil
}

// moving says what keeps a screen from coming to rest: where two looks a little apart differ.
func (d *driver) moving(ctx context.Context, waited time.Duration) (string, error) {
	const apart = 250 * time.Millisecond
	says := fmt.Sprintf("still moving after %v", waited)
	first, err := d.dev.Look(ctx, link.LookOptions{})
	if err != nil {
		return says, err
	}
	var area image.Rectangle
	for range 4 { // a cursor may blink slower than the first wait
		if err := d.dev.Wait(ctx, apart); err != nil {
			return says, err
		}
		next, err := d.dev.Look(ctx, link.LookOptions{})
		if err != nil {
			return says, err
		}
		if area = area.Union(capture.Changed(first.Frame, next.Frame)); !area.Empty() {
			break
		}
	}
	if area.Empty() {
		return says + ": the firmware says that it is busy, but nothing changes", nil
	}
	return fmt.Sprintf("%s: %dx%d at %d,%d; hold the clock, feed the data, or ignore the area as the last resort",
		says, area.Dx(), area.Dy(), area.Min.X, area.Min.Y), nil
}

// expectRedraw holds what updates left on the panel against a full redraw of the same moment.
func (d *driver) expectRedraw(ctx context.Context, line int) error {
	if _, err := d.dev.Settle(ctx, defaultStill, defaultLatest); err != nil {
		return err
	}
	flushed, err := d.dev.Look(ctx, link.LookOptions{})
	if err != nil {
		return err
	}
	if flushed.Redrawn {
		d.expect("redraw", line, record.Missed, "the device has no framebuffer and has flushed more areas than it remembers, so nothing can be said: put the redraw step nearer to the change")
		return nil
	}
	redrawn, err := d.dev.Look(ctx, link.LookOptions{Redraw: true, Known: []*capture.Frame{flushed.Frame}})
	if err != nil {
		return err
	}
	if redrawn.Hash == flushed.Hash {
		d.expect("redraw", line, record.Met, "")
		return nil
	}
	res := compare.Flushed(flushed.Frame.RGBA(), redrawn.Frame.RGBA(), image.Rectangle{})
	var says []string
	for _, r := range res.Regions {
		says = append(says, r.Says)
	}
	d.expect("redraw", line, record.Missed, strings.Join(says, "\n"))
	return nil
}
