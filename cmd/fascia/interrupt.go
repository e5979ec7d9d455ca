package main

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"time"

	"github.com/spf13/cobra"
)

// errInterrupted ends what was interrupted.
var errInterrupted = errors.New("interrupted")

// computes are commands that only compute and write their files whole. Nothing in them waits for anybody, so nothing in them
// asks whether it still should.
var computes = []string{"between", "compare", "drift", "film", "handbook", "join", "lint", "rectify", "report"}

// interruptible has the commands that compute end when they are interrupted, as if they were killed: what they leave is whole
// or absent. Until then a terminal shows that they are at it.
func (a *app) interruptible(root *cobra.Command) {
	for _, name := range computes {
		cmd, _, err := root.Find([]string{name})
		if err != nil || cmd.RunE == nil {
			continue // a test says so
		}
		work := cmd.RunE
		cmd.RunE = func(cmd *cobra.Command, args []string) error {
			done := a.busy(name)
			defer done()
			a.stdout, a.stderr = after{a.stdout, done}, after{a.stderr, done}
			return until(cmd.Context(), func() error { return work(cmd, args) })
		}
	}
}

// until does work that cannot be interrupted, and does not wait for its end once ctx is done.
func until(ctx context.Context, work func() error) error {
	done := make(chan error, 1)
	go func() { done <- work() }()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
		return errInterrupted
	}
}

// politely interrupts a child of ours rather than killing it. It ends within a second; that it is killed after some more is for machines
// that have no time for it.
func politely(child *exec.Cmd) {
	child.Cancel = func() error { return child.Process.Signal(os.Interrupt) }
	child.WaitDelay = 5 * time.Second
}
