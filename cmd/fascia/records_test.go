package main

import (
	"fmt"
	"path/filepath"
	"reflect"
	"slices"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"github.com/fascia-bench/fascia/suites/record"
	"github.com/fascia-bench/fascia/suites/schema/schematest"
)

// nameRuns sets $RUN1, $RUN2 ... to the runs below a demo's folder, by age.
func nameRuns(ts *testscript.TestScript, _ bool, args []string) {
	dirs, err := filepath.Glob(ts.MkAbs(args[0] + "/runs/*"))
	ts.Check(err)
	started := map[string]time.Time{}
	for _, dir := range dirs {
		run, err := record.Load(dir)
		ts.Check(err)
		started[dir] = run.Started
	}
	slices.SortFunc(dirs, func(a, b string) int { return started[a].Compare(started[b]) })
	dirs = slices.DeleteFunc(dirs, func(dir string) bool { return filepath.Base(dir) == "joined" })
	for i, dir := range dirs {
		ts.Setenv(fmt.Sprintf("RUN%d", i+1), dir)
	}
}

// sameRuns holds two records against each other, timing aside.
func sameRuns(ts *testscript.TestScript, _ bool, args []string) {
	var runs [2]*record.Run
	for i := range runs {
		run, err := record.Load(ts.MkAbs(args[i]))
		ts.Check(err)
		run.Run, run.Started, run.Ended, run.Part, run.Dir = "", time.Time{}, time.Time{}, "", ""
		for k := range run.Walks { // what a restored twin saves is time and wire before the first look
			w := &run.Walks[k]
			w.Took, w.Wire = 0, 0
		}
		slices.SortFunc(run.Walks, func(a, b record.Walk) int { return compareText(a.File, b.File) })
		slices.SortStableFunc(run.Looks, func(a, b record.Look) int { return compareText(a.Walk, b.Walk) })
		slices.SortStableFunc(run.Expectations, func(a, b record.Expectation) int { return compareText(a.Walk, b.Walk) })
		runs[i] = run
	}
	a, b := runs[0], runs[1]
	for i := range min(len(a.Looks), len(b.Looks)) {
		if !reflect.DeepEqual(a.Looks[i], b.Looks[i]) {
			ts.Fatalf("look %d differs:\n%+v\n%+v", i, a.Looks[i], b.Looks[i])
		}
	}
	for i := range min(len(a.Walks), len(b.Walks)) {
		if !reflect.DeepEqual(a.Walks[i], b.Walks[i]) {
			ts.Fatalf("walk %d differs:\n%+v\n%+v", i, a.Walks[i], b.Walks[i])
		}
	}
	if !reflect.DeepEqual(a, b) {
		ts.Fatalf("the records differ: %d and %d looks, %d and %d expectations, counts %v and %v", len(a.Looks), len(b.Looks), len(a.Expectations), len(b.Expectations), a.Counts, b.Counts)
	}
}

func compareText(a, b string) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// cutRun makes a run look as if it had been killed in its fourth walk.
func cutRun(ts *testscript.TestScript, _ bool, args []string) {
	dir := ts.MkAbs(args[0])
	run, err := record.Load(dir)
	ts.Check(err)
	run.Ended = time.Time{}
	for i := range run.Walks[3:] {
		run.Walks[3+i].Done = false
	}
	for i, l := range run.Looks {
		if l.Walk == run.Walks[4].Walk { // it was in the middle of the fourth
			run.Looks = run.Looks[:i-1]
			break
		}
	}
	ts.Check(record.Save(filepath.Join(dir, record.File), run))
}

// fitsSchema checks a run's record, or JSON in a file, against the published schema of runs.
func fitsSchema(ts *testscript.TestScript, _ bool, args []string) {
	s, err := schematest.Compile("run")
	ts.Check(err)
	ts.Check(s.Check([]byte(ts.ReadFile(args[0]))))
}
