package main

import (
	"io"
	"strings"
	"testing"

	"github.com/creack/pty"
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
	done()
	done() // may be deferred too
	terminal.Close()
	rest, _ := io.ReadAll(screen) // its error is that the other end is closed
	if !strings.HasSuffix(string(rest), wipe) {
		t.Errorf("at the end %q", rest)
	}

	var quiet strings.Builder
	b := app{stderr: &quiet}
	b.busy("reading")()
	if quiet.Len() > 0 {
		t.Errorf("to a file: %q", quiet.String())
	}
}
