package report

import (
	"fmt"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/suites/record"
)

// tally counts what a record holds. The record's own Counts are not used: a run that was cut off
// may not have come to fill them.
type tally struct {
	looks, planned int // looks in the record; looks that the walks have
	walks, broken  int // walks; those that broke off
	expected       int
	of             map[string]int // by verdict and by result
}

func tallyOf(run *record.Run) tally {
	t := tally{looks: len(run.Looks), walks: len(run.Walks), expected: len(run.Expectations), of: map[string]int{}}
	for _, w := range run.Walks {
		t.planned += w.Looks
		if w.Why != "" {
			t.broken++
		}
	}
	t.planned = max(t.planned, t.looks)
	for _, l := range run.Looks {
		t.of[string(l.Verdict)]++
	}
	for _, e := range run.Expectations {
		t.of[string(e.Result)]++
	}
	return t
}

// verdict is the run in one sentence. What stands in the way of a verdict is said first, as it
// decides the exit status.
func verdict(run *record.Run) string {
	t := tallyOf(run)
	blind := t.of[string(record.NoCapture)] + t.of[string(record.NotReached)]
	faults := t.faults()
	switch {
	case run.Why != "":
		return "There is no verdict: " + strings.TrimRight(run.Why, ". ") + "."
	case run.Ended.IsZero():
		s := fmt.Sprintf("The run was cut off after %d of %s", t.looks, plural(t.planned, "look"))
		if len(faults) > 0 {
			s += "; until then, " + list(faults)
		}
		return s + "."
	case t.broken > 0 || blind > 0:
		s := fmt.Sprintf("There is no verdict on %d of %s", blind, plural(t.planned, "look"))
		if t.broken > 0 {
			s += fmt.Sprintf(", as %s broke off", plural(t.broken, "walk"))
		}
		if len(faults) > 0 {
			s += "; besides, " + list(faults)
		}
		return s + "."
	case len(faults) > 0:
		s := list(faults)
		return strings.ToUpper(s[:1]) + s[1:] + "."
	case t.looks == 0 && t.expected == 0:
		return "There is no verdict: nothing was looked at."
	}
	s := fmt.Sprintf("All %s are the same as their goldens", plural(t.looks, "look"))
	switch t.looks {
	case 0:
		s = "No look was taken"
	case 1:
		s = "The one look is the same as its golden"
	}
	switch t.expected {
	case 0:
	case 1:
		s += ", and the one expectation was met"
	default:
		s += fmt.Sprintf(", and all %d expectations were met", t.expected)
	}
	return s + "."
}

// faults lists what gives exit status 1, a clause each.
func (t tally) faults() []string {
	var out []string
	if n := t.of[string(record.Differs)]; n > 0 {
		out = append(out, fmt.Sprintf("%d of %s %s", n, plural(t.looks, "look"), verb(n, "differs from its golden", "differ from their goldens")))
	}
	if n := t.of[string(record.Unapproved)]; n > 0 {
		out = append(out, fmt.Sprintf("%d %s no golden yet", n, verb(n, "has", "have")))
		if len(out) == 1 {
			out[0] = fmt.Sprintf("%d of %s %s no golden yet", n, plural(t.looks, "look"), verb(n, "has", "have"))
		}
	}
	if n := t.of[string(record.Missed)]; n > 0 {
		out = append(out, fmt.Sprintf("%d of %s %s missed", n, plural(t.expected, "expectation"), verb(n, "was", "were")))
	}
	return out
}

// exitSays explains an exit status.
func exitSays(status int) string {
	return [...]string{
		"everything is as approved",
		"something differs, is missed or is unapproved",
		"there is no verdict",
	}[status]
}

// list joins clauses: "a", "a and b", "a, b, and c".
func list(s []string) string {
	if len(s) < 3 {
		return strings.Join(s, " and ")
	}
	return strings.Join(s[:len(s)-1], ", ") + ", and " + s[len(s)-1]
}

func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

func verb(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

// seconds writes a time as a reader wants it.
func seconds(s float64) string {
	switch {
	case s < 1:
		return fmt.Sprintf("%.0f ms", s*1000)
	case s < 10:
		return fmt.Sprintf("%.2f s", s)
	case s < 120:
		return fmt.Sprintf("%.1f s", s)
	}
	return time.Duration(s * float64(time.Second)).Round(time.Second).String()
}

// bytesOf writes a number of bytes, in thousands as the IEC's decimal prefixes have them.
func bytesOf(n int64) string {
	switch {
	case n < 1000:
		return fmt.Sprintf("%d B", n)
	case n < 1_000_000:
		return fmt.Sprintf("%.1f kB", float64(n)/1e3)
	}
	return fmt.Sprintf("%.2f MB", float64(n)/1e6)
}

// when writes a moment in the zone it was recorded in.
func when(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("2006-01-02 15:04:05 -07:00")
}

// named gives an empty name a word, so that no heading is blank.
func named(s string) string {
	if strings.TrimSpace(s) == "" {
		return "(no name)"
	}
	return s
}
