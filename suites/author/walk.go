package author

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/golden"
)

const (
	// A walk's settle ends once the picture is still for 150 ms: a change after a longer rest is not seen
	// by it. The device is asked every 20 to 100 ms, so less counts as a rest.
	restful = 120 * time.Millisecond
	// Two taps on one spot, given faster than a person did, might be read as a double tap.
	doubleTap = 500 * time.Millisecond
	// A change so shortly before an input is its own, seen by a question that was on its way, or came too late
	// for a person to have waited for it (reaction times are longer: common knowledge, no source).
	reaction = 100 * time.Millisecond
	// margin is added to waits that were measured.
	margin = 100 * time.Millisecond
)

// A Setting is what was set on the device before it was operated.
type Setting struct {
	Walk   string    // the walk's name
	Device string    // who was operated, in words
	Clock  time.Time // zero where the clock runs
	Feeds  [][2]string
}

// Walk writes the walk: what was done, with waits where the device went on by itself, and looks where they
// were asked for.
func (r *Recording) Walk(s Setting) (string, error) {
	marks := slices.Clone(r.marks)
	acts, strange := gestures(r.events, key{r.KeyPage, r.KeyID}, func(at time.Duration) { marks = append(marks, mark{at: at}) })
	slices.SortStableFunc(marks, func(a, b mark) int { return int(a.at - b.at) })
	names := map[string]bool{}
	for i, m := range marks {
		name, err := lookName(m.name, i+1, names)
		if err != nil {
			return "", err
		}
		acts = append(acts, act{from: m.at, to: m.at, step: "look: " + scalar(name), look: true})
	}
	slices.SortStableFunc(acts, func(a, b act) int { return int(a.from - b.from) })

	var b strings.Builder
	fmt.Fprintf(&b, "# Recorded on %s.\n", s.Device)
	fmt.Fprintf(&b, "# %s\n", s.world())
	for _, w := range r.warnings(strange) {
		fmt.Fprintf(&b, "# Missing: %s\n", w)
	}
	fmt.Fprintf(&b, "walk: %s\nsteps:\n", scalar(s.Walk))
	if !s.Clock.IsZero() {
		fmt.Fprintf(&b, "  - clock: %s\n", s.Clock.Format("2006-01-02T15:04:05"))
	}
	for _, f := range s.Feeds {
		items := strings.Split(f[1], "\n")
		for i := range items {
			items[i] = scalar(items[i])
		}
		value := items[0]
		if len(items) > 1 {
			value = "[" + strings.Join(items, ", ") + "]"
		}
		fmt.Fprintf(&b, "  - feed: {%s: %s}\n", scalar(f[0]), value)
	}
	pace := pacer{changes: r.changes, input: act{to: r.start}, covered: r.start, before: r.start}
	for _, a := range acts {
		if p := pace.pause(a); p != "" {
			fmt.Fprintf(&b, "  - %s\n", p)
		}
		for _, n := range a.notes {
			fmt.Fprintf(&b, "  # %s\n", n)
		}
		fmt.Fprintf(&b, "  - %s\n", a.step)
	}
	if len(acts) == 0 {
		return "", fmt.Errorf("nothing was done on the device, and nothing was looked at")
	}
	return b.String(), nil
}

func (s Setting) world() string {
	var parts []string
	if s.Clock.IsZero() {
		parts = append(parts, "Its clock ran")
	} else {
		parts = append(parts, "Its clock was held")
	}
	if len(s.Feeds) == 0 {
		return parts[0] + " and nothing was fed: what else a screen shows is as the device was just started."
	}
	return parts[0] + ", and it was fed what stands below; what else a screen shows is as the device was just started."
}

// warnings tell what the walk does not hold.
func (r *Recording) warnings(strange map[link.EventKind]int) []string {
	var out []string
	if r.lost > 0 {
		out = append(out, fmt.Sprintf("%d events that the device dropped before they were fetched; make FASCIA_OBSERVED larger.", r.lost))
	}
	for _, s := range []struct {
		kind link.EventKind
		what string
	}{
		{link.TouchDown, "touches with a second finger"}, {link.KeyDown, "keys without a name"},
		{link.Point, "moves of a pointer"}, {link.ButtonDown, "presses of a pointer's button"}, {link.Text, "texts"},
	} {
		if n := strange[s.kind]; n > 0 {
			out = append(out, fmt.Sprintf("%d %s, which no step can do.", n, s.what))
		}
	}
	return out
}

// A pacer says what must pass between two acts. A walk does at once what a person did after a while: so what
// the device does by itself is counted from the last input, not from a look, which took the person's time and
// takes little of the walk's.
type pacer struct {
	changes []time.Duration
	input   act           // the last input; at first the start
	covered time.Duration // up to where, in the recording's time, the walk has waited
	before  time.Duration // end of the last act, looks included
}

// pause is the step before the next act, or none. The device going on by itself after a rest takes a wait; a
// picture that changed at once takes settle, unless a look follows, which settles by itself.
func (p *pacer) pause(next act) string {
	var wait time.Duration
	changed := false
	last := p.input.to
	for _, c := range p.changes {
		if c <= p.input.to || c > next.from-reaction {
			continue
		}
		if c-last > restful && c > p.covered {
			wait = -1 // measured below, up to the last change
		}
		changed = changed || c > p.before
		last = max(last, c)
	}
	if wait < 0 {
		wait = (last - p.covered + margin).Round(50 * time.Millisecond)
	}
	if p.input.touch && next.touch && distance(p.input.at, next.at) <= 2*slop {
		wait = max(wait, min(next.from-p.input.to, doubleTap).Round(10*time.Millisecond))
	}
	p.before = next.to
	p.covered += wait
	if !next.look {
		p.input, p.covered = next, next.to
	}
	switch {
	case wait > 0:
		return fmt.Sprintf("wait: %v", wait)
	case changed && !next.look:
		return "settle"
	}
	return ""
}

// lookName gives a look a name whose file name no other look of the walk has.
func lookName(name string, number int, taken map[string]bool) (string, error) {
	if name == "" {
		name = fmt.Sprintf("look %d", number)
	}
	for n := 1; ; n++ {
		full := name
		if n > 1 {
			full = fmt.Sprintf("%s %d", name, n)
		}
		file, err := golden.FileName(full)
		if err != nil {
			return "", fmt.Errorf("name a look: %w", err)
		}
		if !taken[file] {
			taken[file] = true
			return full, nil
		}
	}
}
