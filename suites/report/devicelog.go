package report

import (
	"io"
	"os"
	"slices"
	"strings"
)

// logFile is what the firmware printed in the whole run; the record holds what belongs to a finding.
const logFile = "device.log"

// around is what the firmware printed before something was found amiss, and right after.
type around struct{ Before, After []string }

// Any reports whether there is anything.
func (a around) Any() bool { return len(a.Before) > 0 }

// readLog reads the run's log; a run without one, or with one beyond 16 MB, goes without what came after.
func readLog(root *os.Root) []string {
	const most = 16 << 20
	f, err := root.Open(logFile)
	if err != nil {
		return nil
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, most+1))
	if err != nil || len(text) > most {
		return nil
	}
	return strings.Split(strings.TrimRight(string(text), "\n"), "\n")
}

// around adds to the record's lines the few that follow them in the log. Each line begins with its time, so that
// the same words are not taken for those of another moment.
func (b *builder) around(before []string) around {
	a := around{Before: before}
	const after = 5
	if n := len(before); n > 0 {
		if i := slices.Index(b.log, before[n-1]); i >= 0 {
			a.After = b.log[i+1 : min(len(b.log), i+1+after)]
		}
	}
	return a
}
