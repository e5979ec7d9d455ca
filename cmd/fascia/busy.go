package main

import (
	"fmt"
	"sync"
	"time"
)

// busy shows on a terminal what is being done and for how long, once that takes more than a second. What it returns
// ends that, and is called before anything else is told.
func (a *app) busy(does string) (done func()) {
	if !isTerminal(a.stderr) {
		return func() {}
	}
	began, over := time.Now(), make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		tick := time.NewTicker(time.Second)
		defer tick.Stop()
		shown := false
		for {
			select {
			case <-tick.C:
				shown = true
				fmt.Fprintf(a.stderr, "%s%s, %.0f s", wipe, does, time.Since(began).Seconds())
			case <-over:
				if shown {
					fmt.Fprint(a.stderr, wipe)
				}
				return
			}
		}
	})
	return sync.OnceFunc(func() {
		close(over)
		wg.Wait()
	})
}
