package main

import (
	"fmt"
	"runtime"
	"runtime/debug"
)

// stamp is the version that a release is built with: -ldflags "-X main.stamp=v1.2.3".
var stamp string

// version names the build: the stamp, else what the Go toolchain recorded of the source.
func version() string {
	if stamp != "" {
		return stamp
	}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	if v := info.Main.Version; v != "" && v != "(devel)" {
		return v
	}
	revision, modified := "", ""
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision":
			revision = s.Value[:min(12, len(s.Value))]
		case s.Key == "vcs.modified" && s.Value == "true":
			modified = ", altered"
		}
	}
	if revision == "" {
		return "unstamped"
	}
	return "unstamped, source " + revision + modified
}

// versionText is what --version prints.
func versionText() string {
	camera := "without camera"
	if withCamera {
		camera = "with camera"
	}
	return fmt.Sprintf("fascia %s, %s/%s, %s, %s\n", version(), runtime.GOOS, runtime.GOARCH, runtime.Version(), camera)
}
