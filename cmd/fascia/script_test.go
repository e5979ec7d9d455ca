package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"github.com/fascia-bench/fascia/suites/demo"
)

// asCommand makes the test binary behave as the command, for tests that need a process to kill.
const asCommand = "FASCIA_TEST_AS_COMMAND"

func TestMain(m *testing.M) {
	if os.Getenv(asCommand) != "" {
		main()
	}
	testscript.Main(m, map[string]func(){"fascia": main})
}

// The scripts run the command as its users do. Beside what testscript knows there is
//
//	exits N fascia ARG...   runs the command and wants just that exit status
//	fits FILE               the JSON in FILE, or stdout, fits the schema of runs
//	runs DIR                names the runs below DIR by age: $RUN1, $RUN2 ...
//	alike RUN RUN           two runs agree in all but times
//	cut RUN                 leaves a run as if it had been killed in its fourth walk
//	demo DIR                unpacks the demo into DIR, with the firmware that panics beside the others
func TestScripts(t *testing.T) {
	files, err := filepath.Glob("testdata/script/*.txtar")
	if err != nil || len(files) == 0 {
		t.Fatalf("no scripts found: %v", err)
	}
	panics, err := filepath.Abs("../../suites/demo/testdata/fernhouse-panic.wasm")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Files: files,
		Setup: func(env *testscript.Env) error {
			env.Setenv("GIT_CONFIG_GLOBAL", os.DevNull)
			env.Setenv("GIT_CONFIG_SYSTEM", os.DevNull)
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": func(ts *testscript.TestScript, neg bool, args []string) {
				if neg || len(args) < 2 {
					ts.Fatalf("usage: exits N command args")
				}
				want, err := strconv.Atoi(args[0])
				ts.Check(err)
				got := 0
				if err := ts.Exec(args[1], args[2:]...); err != nil {
					var exit *exec.ExitError
					if !errors.As(err, &exit) {
						ts.Fatalf("%v", err)
					}
					got = exit.ExitCode()
				}
				if got != want {
					ts.Fatalf("exit status %d, want %d", got, want)
				}
			},
			"fits":  fitsSchema,
			"runs":  nameRuns,
			"alike": sameRuns,
			"cut":   cutRun,
			"demo": func(ts *testscript.TestScript, _ bool, args []string) {
				dir := ts.MkAbs(args[0])
				ts.Check(os.MkdirAll(dir, 0o777))
				ts.Check(demo.Unpack(dir))
				wasm, err := os.ReadFile(panics)
				ts.Check(err)
				ts.Check(os.WriteFile(filepath.Join(dir, "fernhouse-panic.wasm"), wasm, 0o666))
				ts.Check(os.WriteFile(filepath.Join(dir, "bench-panic.yaml"), []byte(fmt.Sprintln(
					"bench: panics\ntarget: fernhouse-320\ndevice: {link: twin:fernhouse-panic.wasm}\ncommands: {bench-light-off: \"true\"}")), 0o666))
			},
		},
	})
}
