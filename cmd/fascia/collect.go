package main

import (
	"os"
	"runtime/debug"
)

// collectLess has garbage collected half as often, unless the environment says how often. It is for commands through which pictures
// pass by the gigabyte while little of them is kept: a tenth of their time went into collecting, and the memory it costs is small.
func collectLess() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(200)
	}
}
