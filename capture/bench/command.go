package bench

import (
	"bytes"
	"context"
	"fmt"
	"os/exec"
	"runtime"
	"strings"
	"time"
)

// commandPatience bounds a host command that is part of a walk or of power switching.
const commandPatience = time.Minute

// output runs a host command of the bench's file in the bench's folder and returns what it prints.
func (b *Bench) output(ctx context.Context, text string) (string, error) {
	outer := ctx
	ctx, cancel := context.WithTimeout(ctx, commandPatience)
	defer cancel()
	cmd := Shell(ctx, b.Dir, text)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	if err := cmd.Run(); err != nil {
		if outer.Err() != nil {
			return "", fmt.Errorf("%s: %w", text, outer.Err())
		}
		if ctx.Err() != nil {
			err = fmt.Errorf("it did not end within %v", commandPatience)
		}
		return "", fmt.Errorf("%s: %w%s", text, err, lastLine(errs.String()+out.String()))
	}
	return out.String(), nil
}

// Shell is a command in the shell of the host's system, to be run in a folder. Once ctx is done it ends within half a second.
func Shell(ctx context.Context, dir, text string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, "sh", "-c", text)
	if runtime.GOOS == "windows" {
		cmd = exec.CommandContext(ctx, "cmd", "/C", text)
	}
	cmd.Dir = dir
	cmd.WaitDelay = 500 * time.Millisecond // a grandchild that keeps the pipe open is not waited for
	return cmd
}

func lastLine(out string) string {
	lines := strings.Split(strings.TrimSpace(out), "\n")
	if last := strings.TrimSpace(lines[len(lines)-1]); last != "" {
		return ": " + last
	}
	return ""
}

// Prepare runs the bench's before command, for as long as it takes, and returns all it printed.
func (b *Bench) Prepare(ctx context.Context) ([]byte, error) {
	if b.Before == "" {
		return nil, nil
	}
	cmd := Shell(ctx, b.Dir, b.Before)
	out, err := cmd.CombinedOutput()
	if err != nil {
		return out, b.errorAt("before", "%v%s", err, lastLine(string(out)))
	}
	return out, nil
}

// Call runs the command that the bench's file has under that name, for a walk's exec step.
func (b *Bench) Call(ctx context.Context, name string) error {
	text, ok := b.Commands[name]
	if !ok {
		return fmt.Errorf("%s has no command %q", b.File, name)
	}
	_, err := b.output(ctx, text)
	return err
}
