package main

import (
	"context"
	"errors"
	"io"
	"testing"

	"github.com/fascia-bench/fascia/capture/capturetest"
)

// TestCommandsThatComputeAreInterrupted: those that ask nobody whether to go on are not waited for.
func TestCommandsThatComputeAreInterrupted(t *testing.T) {
	a := &app{stdout: io.Discard, stderr: io.Discard}
	root := a.root()
	for _, name := range computes {
		if cmd, _, err := root.Find([]string{name}); err != nil || cmd.Name() != name || cmd.RunE == nil {
			t.Errorf("there is no command %s that could be interrupted: %v", name, err)
		}
	}
	free := make(chan struct{})
	defer close(free)
	capturetest.Ends(t, "work that goes on for ever", func(ctx context.Context) {
		if err := until(ctx, func() error { <-free; return nil }); !errors.Is(err, errInterrupted) {
			t.Errorf("it ends with %v", err)
		}
	})
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	cmd, _, err := root.Find([]string{"report"})
	if err != nil {
		t.Fatal(err)
	}
	cmd.SetContext(ctx)
	if err := cmd.RunE(cmd, []string{"no such run"}); err == nil {
		t.Error("an interrupted report of nothing has no error")
	}
}
