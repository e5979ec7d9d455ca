package report

import (
	"fmt"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/suites/record"
)

// What a device or a stranger's walk says is text, wherever it stands.
func TestHostileNames(t *testing.T) {
	long := strings.Repeat("long ", 400) + strings.Repeat("W", 3000)
	for _, evil := range []string{`<script>alert(1)</script>`, `"><img src=x onerror=alert(1)>`, `' onmouseover='alert(1)`, "]]></style><b>", "{{.}}", "javascript:alert(1)",
		"a\nb\tc", "", "   ", "\x00\x07\xff", "\u202eevil", "</title><script>", long} {
		f := mixed(t)
		r := f.run
		r.Run, r.Bench, r.Target, r.Hint = evil, evil, evil, evil
		r.Device.Device, r.Device.Build, r.Device.Firmware, r.Device.Library, r.Device.Format = evil, evil, evil, evil, evil
		for i := range r.Walks {
			r.Walks[i].Walk, r.Walks[i].File, r.Walks[i].Log = r.Walks[i].Walk+evil, evil, []string{evil}
		}
		for i := range r.Looks {
			l := &r.Looks[i]
			l.Walk, l.Look, l.Why = l.Walk+evil, evil, evil
			for j := range l.Path {
				l.Path[j].Says = evil
			}
			for j := range l.Ignored {
				l.Ignored[j].Area, l.Ignored[j].Why = evil, evil
			}
			if l.Finding != nil {
				for j := range l.Finding.Regions {
					l.Finding.Regions[j].Says, l.Finding.Regions[j].Cause = evil+fmt.Sprint(j), evil
				}
				for j := range l.Finding.Causes {
					l.Finding.Causes[j].Says, l.Finding.Causes[j].Cause = evil, evil
				}
			}
		}
		for i := range r.Expectations {
			e := &r.Expectations[i]
			e.Walk, e.What, e.Why = e.Walk+evil, evil, evil
		}
		page := pageOf(t, f)
		wellFormed(t, page)
		if strings.HasPrefix(evil, "<script") && strings.Contains(page, evil) {
			t.Error("a name is markup")
		}
		junitOf(t, f)
		if _, err := Trail(f.dir, r, "home"+evil); err != nil {
			t.Error(err)
		}
	}
}

// Figures out of range, as a damaged or hostile record has them.
func TestHostileFigures(t *testing.T) {
	const far = 1<<63 - 1
	f := mixed(t)
	f.run.Device.Width, f.run.Device.Height = far, -far
	for i := range f.run.Looks {
		l := &f.run.Looks[i]
		l.Line, l.Wire, l.Settle = -far, -far, -1e300
		l.Ignored = []record.Ignored{{X: far, Y: far, W: far, H: far}, {X: -far, Y: -far, W: far, H: far}, {W: -5, H: 4}}
		l.Path = []record.Input{{Says: "tap", Points: [][2]int{{far, -far}, {-far, far}}}, {Points: [][2]int{}}}
		if l.Finding != nil {
			for j := range l.Finding.Regions {
				r := &l.Finding.Regions[j]
				r.X, r.Y, r.W, r.H = far-j, -far, far, far
			}
		}
	}
	f.run.Looks[0].Verdict = "whatever"
	f.run.Expectations[0].Result = "whatever"
	page := pageOf(t, f)
	wellFormed(t, strings.ReplaceAll(page, "#m-whatever", "#m-same"))
	junitOf(t, f)
	for _, w := range f.run.Walks {
		if _, err := Trail(f.dir, f.run, w.Walk); err != nil {
			t.Error(err)
		}
	}
}
