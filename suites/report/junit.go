package report

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/fascia-bench/fascia/capture/picture/whole"
	"github.com/fascia-bench/fascia/suites/record"
)

// JUnit writes junit.xml into the run's folder: a testsuite a walk, a testcase a look and a
// testcase an expectation. The file appears whole or not at all.
//
// A look that differs or has no golden and an expectation that was missed are failures, a look without
// capture is an error, one that was not reached is skipped. A walk that broke off without such a
// look, and a run without verdict, get an error of their own, so that no reader of the file takes
// them for passed. Times are seconds: of a testsuite on the host, of a look the settling.
//
// There is no standard for the format. What is written obeys the strictest schema in wide use,
// "JUnit test result schema for the Apache Ant JUnit and JUnitReport tasks" (Apache License 2.0):
// attributes that it demands are always there, times have no zone (they are UTC). Every file that the
// tests make is also held against the schema by which Jenkins reads them.
func JUnit(runDir string, run *record.Run) error {
	path := filepath.Join(runDir, JUnitFile)
	var out bytes.Buffer
	out.WriteString(xml.Header)
	enc := xml.NewEncoder(&out)
	enc.Indent("", "  ")
	if err := enc.Encode(newSuites(run)); err != nil {
		return fmt.Errorf("write %q: %w", path, err)
	}
	out.WriteByte('\n')
	if err := whole.Write(path, out.Bytes()); err != nil {
		return fmt.Errorf("write %q: %w", path, err)
	}
	return nil
}

type testSuites struct {
	XMLName xml.Name    `xml:"testsuites"`
	Suites  []testSuite `xml:"testsuite"`
}

type testSuite struct {
	Name       string     `xml:"name,attr"`
	Package    string     `xml:"package,attr"`
	ID         int        `xml:"id,attr"`
	Timestamp  string     `xml:"timestamp,attr"`
	Hostname   string     `xml:"hostname,attr"`
	Tests      int        `xml:"tests,attr"`
	Failures   int        `xml:"failures,attr"`
	Errors     int        `xml:"errors,attr"`
	Skipped    int        `xml:"skipped,attr"`
	Time       string     `xml:"time,attr"`
	Properties []property `xml:"properties>property"`
	Cases      []testCase `xml:"testcase"`
	Out        inner      `xml:"system-out"`
	Err        inner      `xml:"system-err"`
}

type property struct {
	Name  string `xml:"name,attr"`
	Value string `xml:"value,attr"`
}

type testCase struct {
	Class   string    `xml:"classname,attr"`
	Name    string    `xml:"name,attr"`
	Time    string    `xml:"time,attr"`
	Failure *fault    `xml:"failure"`
	Error   *fault    `xml:"error"`
	Skipped *struct{} `xml:"skipped"`
}

type fault struct {
	Message string `xml:"message,attr"`
	Type    string `xml:"type,attr"`
	Text    string `xml:",innerxml"` // from proseOf
}

type inner struct {
	Text string `xml:",innerxml"` // from proseOf
}

// proseOf escapes text and leaves its line ends as they are, so that the file can be read as it is.
func proseOf(s string) string {
	var b strings.Builder
	if err := xml.EscapeText(&b, []byte(s)); err != nil {
		panic(err) // a builder takes everything
	}
	return strings.ReplaceAll(b.String(), "&#xA;", "\n")
}

func newSuites(run *record.Run) testSuites {
	var all testSuites
	for _, w := range walksOf(run) {
		all.add(run, suiteOf(w))
	}
	if run.Why != "" || run.Ended.IsZero() {
		c := testCase{Class: "run", Name: "verdict", Time: decimal(0),
			Error: &fault{Type: "no-verdict", Message: verdict(run), Text: proseOf(lines(run.Why, run.Hint))}}
		all.add(run, testSuite{Name: "run", Time: decimal(0), Cases: []testCase{c}})
	}
	return all
}

// add fills in what holds for every suite, and the sums.
func (all *testSuites) add(run *record.Run, s testSuite) {
	s.ID = len(all.Suites)
	s.Package = token(run.Target)
	s.Hostname = token(run.Bench)
	s.Timestamp = run.Started.UTC().Format("2006-01-02T15:04:05")
	for _, f := range facts(run) {
		s.Properties = append(s.Properties, property(f))
	}
	s.Properties = append(s.Properties, property{"run", run.Run})
	for _, c := range s.Cases {
		s.Tests++
		switch {
		case c.Failure != nil:
			s.Failures++
		case c.Error != nil:
			s.Errors++
		case c.Skipped != nil:
			s.Skipped++
		}
	}
	all.Suites = append(all.Suites, s)
}

func suiteOf(w *walkOf) testSuite {
	s := testSuite{Name: token(w.Walk.Walk), Time: decimal(w.Took), Err: inner{proseOf(lines(w.Log...))}}
	told := false
	var attached []string
	for _, l := range w.looks {
		c := testCase{Class: s.Name, Name: token(l.Look), Time: decimal(l.Settle)}
		at := where(w.File, l.Line)
		switch l.Verdict {
		case record.Same:
		case record.Differs:
			c.Failure = failureOf(l, at)
			attached = append(attached, attachment(l.Golden), attachment(l.Capture))
		case record.Unapproved:
			c.Failure = &fault{"there is no golden yet", string(l.Verdict), proseOf(lines(at, file("capture", l.Capture)))}
			attached = append(attached, attachment(l.Capture))
		case record.NotReached:
			c.Skipped = &struct{}{}
		default:
			told = true
			why := l.Why
			if why == "" {
				why = w.Why
			}
			if why == "" {
				why = "no whole picture could be had"
			}
			c.Error = &fault{why, string(l.Verdict), proseOf(lines(append([]string{at}, w.Log...)...))}
		}
		s.Cases = append(s.Cases, c)
	}
	for _, e := range w.expected {
		c := testCase{Class: s.Name, Name: token(e.What), Time: decimal(0)}
		if e.Result != record.Met {
			why := e.Why
			if why == "" {
				why = "it was missed"
			}
			c.Failure = &fault{why, string(e.Result), proseOf(where(w.File, e.Line))}
		}
		s.Cases = append(s.Cases, c)
	}
	if w.Why != "" && !told {
		s.Cases = append(s.Cases, testCase{Class: s.Name, Name: "walk", Time: decimal(0),
			Error: &fault{w.Why, "broke-off", proseOf(lines(append([]string{w.File}, w.Log...)...))}})
	}
	s.Out = inner{proseOf(lines(attached...))}
	return s
}

// attachment is how readers of such files are told of a file beside it: a line of a suite's output, with the path.
// Common practice, no standard.
func attachment(path string) string {
	if path == "" {
		return ""
	}
	return "[[ATTACHMENT|" + path + "]]"
}

// failureOf puts what is said of a finding into words: its first sentence in the message, all of
// them in the text.
func failureOf(l record.Look, at string) *fault {
	f := &fault{Message: "it differs from its golden", Type: string(l.Verdict)}
	said := []string{at}
	if l.Finding != nil {
		if len(l.Finding.Causes) > 0 {
			f.Message = l.Finding.Causes[0].Says
		}
		if l.Finding.Size.Golden != l.Finding.Size.Capture {
			said = append(said, sizesDiffer(*l.Finding))
		}
		seen := map[string]bool{}
		say := func(s string) {
			if !seen[s] {
				seen[s] = true
				said = append(said, s)
			}
		}
		for _, c := range l.Finding.Causes {
			say(c.Says)
		}
		for _, r := range l.Finding.Regions {
			say(r.Says)
		}
	}
	said = append(said, file("golden", l.Golden), file("capture", l.Capture))
	f.Text = proseOf(lines(append(said, l.Log...)...))
	return f
}

func file(what, path string) string {
	if path == "" {
		return ""
	}
	return what + ": " + path
}

func decimal(s float64) string { return fmt.Sprintf("%.3f", s) }

// lines joins what is not empty.
func lines(s ...string) string {
	var out []string
	for _, l := range s {
		if l != "" {
			out = append(out, l)
		}
	}
	return strings.Join(out, "\n")
}

// token makes a name what XML Schema calls a token: one line, not empty, single spaces.
func token(s string) string { return named(strings.Join(strings.Fields(s), " ")) }
