package bench

import (
	"context"
	"errors"
	"runtime"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/capturetest"
)

// TestCommandsEndWithTheirContext, those too whose children go on and hold the pipe.
func TestCommandsEndWithTheirContext(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("these commands are of a POSIX shell")
	}
	b := &Bench{Dir: t.TempDir(), File: "bench.yaml", Before: "sleep 60 & wait", PowerOff: "true", PowerOn: "sleep 60; true", Commands: map[string]string{"door": "sleep 60; true"}}
	d := &DumpDevice{b: b}
	for what, f := range map[string]func(context.Context) error{
		"before":          func(ctx context.Context) error { _, err := b.Prepare(ctx); return err },
		"a walk's exec":   func(ctx context.Context) error { return b.Call(ctx, "door") },
		"power":           func(ctx context.Context) error { return d.PowerCycle(ctx, time.Hour) },
		"a device's wait": func(ctx context.Context) error { return d.Wait(ctx, time.Hour) },
	} {
		capturetest.Ends(t, what, func(ctx context.Context) {
			if err := f(ctx); err == nil || what != "before" && !errors.Is(err, context.Canceled) {
				t.Errorf("%s: %v", what, err)
			}
		})
	}
}
