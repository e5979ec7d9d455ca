package report

import (
	"encoding/xml"
	"errors"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// The content model below is that of "JUnit test result schema for the Apache Ant JUnit and
// JUnitReport tasks", Windy Road Technology 2011, Apache License 2.0: for each element its
// children in order, and the pattern of each attribute that is demanded or allowed.
type model struct {
	children string // a pattern over the children's names, each followed by a space
	attrs    map[string]string
	optional string
}

var (
	tokenRE    = `\S+( \S+)*`
	intRE      = `-?\d+`
	decimalRE  = `[-+]?\d+(\.\d+)?`
	anythingRE = `(?s).*`
)

var junitModel = map[string]model{
	"testsuites": {children: `(testsuite )*`},
	"testsuite": {children: `properties (testcase )*system-out system-err `, optional: "skipped", attrs: map[string]string{
		"name": tokenRE, "package": `(` + tokenRE + `)?`, "id": intRE, "timestamp": `\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d`, "hostname": tokenRE,
		"tests": intRE, "failures": intRE, "errors": intRE, "skipped": intRE, "time": decimalRE}},
	"properties": {children: `(property )*`},
	"property":   {attrs: map[string]string{"name": tokenRE, "value": anythingRE}},
	"testcase":   {children: `(skipped |error |failure )?`, attrs: map[string]string{"name": `(` + tokenRE + `)?`, "classname": `(` + tokenRE + `)?`, "time": decimalRE}},
	"failure":    {attrs: map[string]string{"message": anythingRE, "type": anythingRE}, optional: "message"},
	"error":      {attrs: map[string]string{"message": anythingRE, "type": anythingRE}, optional: "message"},
	"skipped":    {},
	"system-out": {},
	"system-err": {},
}

// junitOf writes the file, holds it against the schema and returns it.
func junitOf(t *testing.T, f *folder) string {
	t.Helper()
	if err := JUnit(f.dir, f.run); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(filepath.Join(f.dir, JUnitFile))
	if err != nil {
		t.Fatal(err)
	}
	d := xml.NewDecoder(strings.NewReader(string(b)))
	type element struct{ name, children string }
	open := []element{{"", ""}}
	counts := map[string]int{}
	var suite map[string]string
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		switch e := tok.(type) {
		case xml.StartElement:
			name := e.Name.Local
			open[len(open)-1].children += name + " "
			open = append(open, element{name: name})
			m, ok := junitModel[name]
			if !ok {
				t.Errorf("<%s> is not in the schema", name)
			}
			attr := map[string]string{}
			for _, a := range e.Attr {
				attr[a.Name.Local] = a.Value
				if _, ok := m.attrs[a.Name.Local]; !ok {
					t.Errorf("<%s> has %s, which is not in the schema", name, a.Name.Local)
				}
			}
			for k, pattern := range m.attrs {
				v, ok := attr[k]
				if !ok && k != m.optional || ok && !regexp.MustCompile(`^(`+pattern+`)$`).MatchString(v) {
					t.Errorf("<%s %s=%.80q> does not match %s", name, k, v, pattern)
				}
			}
			if name == "testsuite" {
				suite, counts = attr, map[string]int{}
			}
			counts[name]++
		case xml.EndElement:
			x := open[len(open)-1]
			open = open[:len(open)-1]
			if m := junitModel[x.name]; !regexp.MustCompile(`^(` + m.children + `)$`).MatchString(x.children) {
				t.Errorf("<%s> holds %q, want %s", x.name, x.children, m.children)
			}
			if x.name == "testsuite" {
				for attr, element := range map[string]string{"tests": "testcase", "failures": "failure", "errors": "error", "skipped": "skipped"} {
					if suite[attr] != strconv.Itoa(counts[element]) {
						t.Errorf("testsuite %q says %s=%s and has %d", suite["name"], attr, suite[attr], counts[element])
					}
				}
			}
		}
	}
	if says, ok := accepted(t, filepath.Join(f.dir, JUnitFile)); !ok {
		t.Errorf("the published schema refuses it:\n%s", says)
	}
	return string(b)
}

func TestJUnitText(t *testing.T) {
	checkGolden(t, "mixed.xml", junitOf(t, mixed(t)))
}

// A walk that broke off must not pass for one whose looks are all the same.
func TestJUnitBrokenWalk(t *testing.T) {
	f := newFolder(t)
	f.look("home", "splash", panelOf(64, 48, 0), panelOf(64, 48, 0))
	f.run.Walks = mixed(t).run.Walks[:1]
	f.run.Walks[0].Why = "the device does not answer"
	if got := junitOf(t, f); !strings.Contains(got, `errors="1"`) || !strings.Contains(got, `message="the device does not answer" type="broke-off"`) {
		t.Errorf("no error in\n%s", got)
	}
}

func TestJUnitCutOff(t *testing.T) {
	f := newFolder(t)
	f.look("home", "splash", panelOf(64, 48, 0), panelOf(64, 48, 0))
	if got := junitOf(t, f); strings.Contains(got, "no-verdict") {
		t.Error("a run that ended has a verdict")
	}
	f.run.Ended = time.Time{}
	if got := junitOf(t, f); !strings.Contains(got, `type="no-verdict"`) {
		t.Errorf("a run that was cut off must not pass:\n%s", got)
	}
}
