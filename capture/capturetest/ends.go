package capturetest

import (
	"context"
	"testing"
	"time"
)

// Bound is how long anything goes on at most once its context is done, by design: the waits and graces of each kind of work add
// up to less. Ends logs what it took.
const Bound = time.Second

// margin is for machines that run much else at the same time.
const margin = 20 * Bound

// Ends starts work that would go on for very long, has its context done while it is under way, and fails unless it ends then.
func Ends(t *testing.T, what string, work func(ctx context.Context)) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		work(ctx)
	}()
	select {
	case <-ended:
		t.Errorf("%s: it ended before anybody asked", what)
		return
	case <-time.After(300 * time.Millisecond):
	}
	asked := time.Now()
	cancel()
	select {
	case <-ended:
		t.Logf("%s: ended %v after its context was done; by design it is at most %v", what, time.Since(asked).Round(time.Millisecond), Bound)
	case <-time.After(margin):
		t.Errorf("%s: it goes on %v after its context was done, and is to end within %v", what, margin, Bound)
		<-ended
	}
}
