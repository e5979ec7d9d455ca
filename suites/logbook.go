package suites

import (
	"fmt"

	"github.com/fascia-bench/fascia/capture/link"
)

// bookKeeps is how many lines a logBook keeps at least: a firmware that floods its log overnight must not
// fill the host's memory. The file device.log has them all.
const bookKeeps = 20_000

// A logBook holds what the firmware printed last. Lines are counted from the run's beginning.
type logBook struct {
	lines []link.LogLine
	gone  int      // lines before those
	dies  []string // patterns of lines by which the firmware says that it died
	death string   // the line by which it did
}

func (b *logBook) add(l link.LogLine) {
	b.keep(l)
	for _, pattern := range b.dies {
		if b.death == "" && matches(pattern, l.Text) {
			b.death = l.Text
		}
	}
}

// died is an error once the firmware has printed its death.
func (b *logBook) died() error {
	if b.death == "" {
		return nil
	}
	return fmt.Errorf("the device restarted: it printed %q", b.death)
}

func (b *logBook) keep(list ...link.LogLine) {
	b.lines = append(b.lines, list...)
	if over := len(b.lines) - 2*bookKeeps; over > 0 {
		b.gone += over + bookKeeps
		b.lines = append([]link.LogLine(nil), b.lines[over+bookKeeps:]...)
	}
}

// count is how many lines there were.
func (b *logBook) count() int { return b.gone + len(b.lines) }

// after returns the lines after the first n, as far as they are kept.
func (b *logBook) after(n int) []link.LogLine {
	return b.lines[min(max(0, n-b.gone), len(b.lines)):]
}

// tail returns the last lines.
func (b *logBook) tail(n int) []string { return told(b.after(b.count() - n)) }

// since returns the lines after the first n, as many of the last as belong beside a finding. Where hardly any
// were printed since, lines from before say where the firmware was.
func (b *logBook) since(n int) []string {
	return told(b.after(min(max(n, b.count()-logBeside), b.count()-3)))
}

func told(lines []link.LogLine) []string {
	var out []string
	for _, l := range lines {
		out = append(out, fmt.Sprintf("%.3f  %s", l.At.Seconds(), l.Text))
	}
	return out
}
