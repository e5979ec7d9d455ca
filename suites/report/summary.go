package report

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/fascia-bench/fascia/capture/picture/whole"
	"github.com/fascia-bench/fascia/suites/record"
	"github.com/fascia-bench/fascia/suites/report/commonmark"
)

// SummaryFile is the name of what Summary writes.
const SummaryFile = "summary.md"

// maxLines bounds the list of findings of a summary: CI systems cut long ones off, and nobody reads them there.
const maxLines = 50

// Summary writes summary.md into the run's folder: the run in a screenful of Markdown (CommonMark with GitHub's
// tables), for the page of a CI job. Verdict first, then what differs by cause, then look by look.
func Summary(runDir string, run *record.Run) error {
	path := filepath.Join(runDir, SummaryFile)
	if err := whole.Write(path, []byte(summary(run))); err != nil {
		return fmt.Errorf("write %q: %w", path, err)
	}
	return nil
}

func summary(run *record.Run) string {
	var o strings.Builder
	text := commonmark.Text
	fmt.Fprintf(&o, "## %s\n\n", text(verdict(run)))
	if run.Hint != "" {
		fmt.Fprintf(&o, "%s\n\n", text(run.Hint))
	}
	var parts []string
	for _, c := range counts(run) {
		parts = append(parts, fmt.Sprintf("%d %s", c.N, c.Word))
	}
	fmt.Fprintf(&o, "%s. Exit status %d: %s.\n", strings.Join(parts, ", "), run.Exit(), exitSays(run.Exit()))

	var causes []*causeLine
	for _, l := range run.Looks {
		causes = addCauses(causes, l, link{Name: named(l.Walk) + " / " + named(l.Look)})
	}
	slices.SortStableFunc(causes, func(a, b *causeLine) int { return len(b.Looks) - len(a.Looks) })
	if len(causes) > 0 {
		o.WriteString("\n| cause | looks |\n|---|--:|\n")
		for _, c := range causes {
			fmt.Fprintf(&o, "| %s | %d |\n", text(c.Cause), len(c.Looks))
		}
	}
	var rows []string
	row := func(name string, what any, says string) {
		rows = append(rows, fmt.Sprintf("| %s | %s | %s |\n", text(name), text(fmt.Sprint(what)), text(says)))
	}
	for _, w := range walksOf(run) {
		if w.Why != "" {
			row(w.Walk.Walk, "broke off", w.Why)
		}
		for _, l := range w.looks {
			name := named(l.Walk) + " / " + named(l.Look)
			switch {
			case l.Verdict == record.Same || l.Verdict == record.NotReached:
			case l.Finding != nil:
				said := Sentences(*l.Finding)
				if n := len(said) - 2; n > 0 {
					said = append(said[:2], fmt.Sprintf("And %d more.", n))
				}
				row(name, l.Verdict, strings.Join(said, " "))
			default:
				row(name, l.Verdict, l.Why)
			}
		}
		for _, e := range w.expected {
			if e.Result != record.Met {
				row(named(e.Walk)+", line "+fmt.Sprint(e.Line), e.Result, e.What+": "+e.Why)
			}
		}
	}
	if len(rows) > 0 {
		o.WriteString("\n| where | verdict | what |\n|---|---|---|\n")
		for _, r := range rows[:min(len(rows), maxLines)] {
			o.WriteString(r)
		}
		if n := len(rows) - maxLines; n > 0 {
			fmt.Fprintf(&o, "\n%d more are in %s.\n", n, PageFile)
		}
	}
	o.WriteString("\n")
	for i, f := range facts(run) {
		if i > 0 {
			o.WriteString(" · ")
		}
		fmt.Fprintf(&o, "%s %s", f.Name, text(f.Value))
	}
	o.WriteString("\n")
	return o.String()
}
