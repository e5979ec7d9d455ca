package report

import (
	"fmt"
	"strings"

	"github.com/fascia-bench/fascia/suites/record"
)

// counts lists what there is: verdicts that occur, and always how many looks are the same.
func counts(run *record.Run) []count {
	t := tallyOf(run)
	var out []count
	for _, v := range record.Verdicts {
		if n := t.of[string(v)]; n > 0 || v == record.Same {
			out = append(out, count{n, string(v), map[record.Verdict]string{
				record.Same: "as approved", record.Differs: "from their goldens", record.Unapproved: "no golden yet",
				record.NoCapture: "no whole picture", record.NotReached: "the walk ended before"}[v]})
		}
	}
	for _, r := range []record.Result{record.Met, record.Missed} {
		if n := t.of[string(r)]; n > 0 {
			out = append(out, count{n, string(r), verb(n, "expectation", "expectations")})
		}
	}
	return out
}

func addCauses(causes []*causeLine, l record.Look, look link) []*causeLine {
	if l.Finding == nil {
		return causes
	}
next:
	for _, c := range l.Finding.Causes {
		for _, have := range causes {
			if have.Cause != c.Cause {
				continue
			}
			if have.Looks[len(have.Looks)-1] != look {
				have.Looks = append(have.Looks, look)
			}
			continue next
		}
		causes = append(causes, &causeLine{c.Cause, []link{look}})
	}
	return causes
}

func facts(run *record.Run) []fact {
	d := run.Device
	panel := ""
	if d.Width > 0 {
		panel = fmt.Sprintf("%d x %d px, %s", d.Width, d.Height, d.Format)
	}
	took := ""
	if !run.Started.IsZero() && !run.Ended.IsZero() {
		took = seconds(run.Ended.Sub(run.Started).Seconds())
	}
	ended := when(run.Ended)
	if ended == "" {
		ended = "not ended: it goes on, or was cut off"
	}
	all := []fact{
		{"device", d.Device}, {"build", d.Build}, {"firmware", d.Firmware}, {"drawing library", d.Library}, {"panel", panel},
		{"bench", run.Bench}, {"target", run.Target}, {"started", when(run.Started)}, {"ended", ended}, {"took", took}, {"fascia", run.Tool},
	}
	var out []fact
	for _, f := range all {
		if strings.TrimSpace(f.Value) != "" {
			out = append(out, f)
		}
	}
	return out
}

// brokenOf tells why a walk came to no verdict. A walk without a reason of its own may still hold
// a look without capture.
func brokenOf(w *walkOf, t trail) []broken {
	b := broken{Walk: t.Name, Where: t.File, Why: w.Why, TrailID: t.ID, Log: lastLines(w.Log)}
	for i, l := range w.looks {
		if l.Verdict != record.NoCapture {
			continue
		}
		b.Look, b.TrailID = named(l.Look), t.Legs[i].ID
		b.Where = where(w.File, l.Line)
		if b.Why == "" {
			b.Why = l.Why
		}
		if b.Why == "" {
			b.Why = "no whole picture could be had"
		}
		break
	}
	if b.Why == "" {
		return nil
	}
	return []broken{b}
}

// lastLines bounds what a page shows of a log.
func lastLines(log []string) []string {
	const most = 50
	return log[max(0, len(log)-most):]
}

func where(file string, line int) string {
	if file == "" {
		return ""
	}
	if line <= 0 {
		return file
	}
	return fmt.Sprintf("%s:%d", file, line)
}
