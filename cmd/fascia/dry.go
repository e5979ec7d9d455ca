package main

import (
	"fmt"
	"time"

	"github.com/fascia-bench/fascia/suites"
)

// dryRun prints what would be done, and estimates what the looks cost on a serial line.
func (a *app) dryRun(bench string, walks []string) error {
	plan, err := suites.Prepare(bench, walks)
	if err != nil {
		return err
	}
	looks, known := 0, 0
	var took time.Duration
	for _, w := range plan.Walks {
		fmt.Fprintf(a.stdout, "%s (%s)\n", w.Name, w.File)
		if w.From != nil {
			fmt.Fprintf(a.stdout, "    starts from %s\n", w.From.Name)
		}
		for _, s := range w.Steps {
			fmt.Fprintf(a.stdout, "    %4d  %s\n", s.At.Line(), s.Do.Says().Says)
		}
		n, has := plan.Approved(w)
		looks, known = looks+n, known+has
		took += w.Estimate()
	}
	bytes := known*suites.LookBytes + (looks-known)*suites.NewLookBytes
	fmt.Fprintf(a.stdout, "\n%d walks, %d looks, of which %d have a golden. If those are unchanged, the looks move about %d bytes: %.2f s at 115,200 baud, %.3f s at 921,600.\nThe steps wait for %v on the device.\n",
		len(plan.Walks), looks, known, bytes, float64(bytes)*10/115200, float64(bytes)*10/921600, took.Round(time.Second))
	return nil
}
