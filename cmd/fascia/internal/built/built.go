// Package built gives tests outside package main the command as its users have it: built, and run as a
// process of its own.
package built

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// Exit statuses of the command.
const (
	OK        = 0
	Differs   = 1
	NoVerdict = 2
)

// Path is the command's file while Main runs.
var Path string

// Main builds the command, without the camera, and runs a package's tests.
func Main(m *testing.M) {
	dir, err := os.MkdirTemp("", "fascia")
	if err == nil {
		Path = filepath.Join(dir, "fascia")
		build := exec.Command("go", "build", "-o", Path, "github.com/fascia-bench/fascia/cmd/fascia")
		build.Env = append(os.Environ(), "CGO_ENABLED=0")
		var out []byte
		if out, err = build.CombinedOutput(); err != nil {
			err = fmt.Errorf("%w\n%s", err, out)
		}
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "build the command:", err)
		os.Exit(1)
	}
	status := m.Run()
	os.RemoveAll(dir)
	os.Exit(status)
}

// Run runs the command, wants an exit status, and returns all it printed.
func Run(tb testing.TB, want int, args ...string) string {
	tb.Helper()
	cmd := exec.Command(Path, args...)
	out, _ := cmd.CombinedOutput()
	if got := cmd.ProcessState.ExitCode(); got != want {
		tb.Fatalf("fascia %v: exit status %d, want %d\n%s", args, got, want, out)
	}
	return string(out)
}
