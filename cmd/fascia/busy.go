package main

import (
	"fmt"
	"io"
	"sync"
	"time"
)

// busy shows on a terminal what is being done and for how long, once that takes more than a second. What it returns
// ends that, and is called before anything else is told.
func (a *app) busy(does string) (done func()) {
	if !isTerminal(a.stderr) {
		return func() {}
	}
	screen := a.stderr // which may be another when there is something to show
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
				fmt.Fprintf(screen, "%s%s, %.0f s", wipe, does, time.Since(began).Seconds())
			case <-over:
				if shown {
					fmt.Fprint(screen, wipe)
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

// after writes once something else is over, such as a line on the terminal that the text would run on from.
type after struct {
	io.Writer
	over func()
}

func (a after) Write(p []byte) (int, error) {
	a.over()
	return a.Writer.Write(p)
}
