package main

import (
	"fmt"
	"io"
	"strings"
	"sync"
	"testing"

	"github.com/creack/pty"
	"github.com/spf13/cobra"
)

// Work that takes long shows on a terminal that it goes on, and leaves nothing of that behind.
func TestBusyOnATerminal(t *testing.T) {
	screen, terminal, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer screen.Close()
	a := app{stderr: terminal}
	done := a.busy("reading goldens")
	var seen strings.Builder
	part := make([]byte, 256)
	for !strings.Contains(seen.String(), "reading goldens, 2 s") {
		n, err := screen.Read(part)
		if err != nil {
			t.Fatalf("%v after %q", err, seen.String())
		}
		seen.Write(part[:n])
	}
	fmt.Fprint(after{terminal, done}, "50 goldens")
	done() // may be deferred too
	terminal.Close()
	rest, _ := io.ReadAll(screen) // its error is that the other end is closed
	if !strings.HasSuffix(string(rest), wipe+"50 goldens") {
		t.Errorf("at the end %q", rest)
	}

	var quiet strings.Builder
	b := app{stderr: &quiet}
	b.busy("reading")()
	if quiet.Len() > 0 {
		t.Errorf("to a file: %q", quiet.String())
	}
}

// A command that computes shows that it does until it has something to tell, which begins a line.
func TestCommandsThatComputeShowIt(t *testing.T) {
	screen, terminal, err := pty.Open()
	if err != nil {
		t.Fatal(err)
	}
	defer screen.Close()
	a := app{stdout: terminal, stderr: terminal}
	told := make(chan struct{})
	root := &cobra.Command{Use: "fascia"}
	root.AddCommand(&cobra.Command{Use: "lint", RunE: func(*cobra.Command, []string) error {
		<-told
		fmt.Fprint(a.stdout, "nothing found")
		fmt.Fprint(a.stderr, ", and that is all")
		return nil
	}})
	a.interruptible(root)
	root.SetArgs([]string{"lint"})
	status := make(chan error, 1)
	go func() {
		status <- root.ExecuteContext(t.Context())
		terminal.Close()
	}()
	var seen strings.Builder
	part := make([]byte, 256)
	tell := sync.OnceFunc(func() { close(told) })
	for {
		n, err := screen.Read(part)
		seen.Write(part[:n])
		if strings.Contains(seen.String(), "lint, 1 s") {
			tell()
		}
		if err != nil {
			break // the other end is closed
		}
	}
	if want := wipe + "nothing found, and that is all"; <-status != nil || !strings.HasSuffix(seen.String(), want) {
		t.Errorf("%q", seen.String())
	}
}
