package report

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/extension"

	"github.com/fascia-bench/fascia/suites/record"
)

func TestSummaryText(t *testing.T) { checkGolden(t, "mixed.md", summary(mixed(t).run)) }

// The verdict is the first line, a long run stays short, and what strangers wrote makes no row or link of its own.
func TestSummaryHolds(t *testing.T) {
	f := mixed(t)
	for i := range 200 {
		f.run.Looks = append(f.run.Looks, record.Look{Walk: "home", Look: fmt.Sprintf("a | b\n| c | <b>%d</b>", i), Verdict: record.Unapproved, Why: "[x](http://y)"})
	}
	md := summary(f.run)
	if first, _, _ := strings.Cut(md, "\n"); !strings.HasPrefix(first, "## There is no verdict on") {
		t.Errorf("the summary begins with %q", first)
	}
	var out bytes.Buffer
	if err := goldmark.New(goldmark.WithExtensions(extension.Table)).Convert([]byte(md), &out); err != nil {
		t.Fatal(err)
	}
	page := out.String()
	if n := strings.Count(page, "<tr>"); n != 1+2+1+maxLines { // two causes
		t.Errorf("%d rows of tables", n)
	}
	if strings.Contains(page, "<a ") || strings.Contains(page, "<b>") || strings.Contains(page, "<!-- raw") {
		t.Error("a look's name became markup")
	}
}

// Beside a finding stands what the firmware printed before it and right after.
func TestLogAroundFinding(t *testing.T) {
	f := mixed(t)
	f.run.Looks[1].Log = []string{"1.000  screen <panel>", "1.200  lamp 64"}
	f.file(logFile, "0.500  boot\n1.000  screen <panel>\n1.200  lamp 64\n1.300  after\n9.000  boot\n")
	page := pageOf(t, f)
	wellFormed(t, page)
	want := "1.000  screen &lt;panel&gt;\n1.200  lamp 64\n<span class=\"then\">then\n</span>1.300  after\n9.000  boot\n</pre>"
	if !strings.Contains(page, want) {
		t.Error("the log around the finding is not shown")
	}
}
