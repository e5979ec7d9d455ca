package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"time"
)

// quickTests runs a folder's tests as they are and gives a pattern of those that are done within seconds. Most
// mutants are noticed by one of them, so that the others, which take nearly all of the time, need not run.
func quickTests(pkg string) (string, error) {
	cmd := exec.Command("go", "test", "-count=1", "-json", pkg)
	out, err := cmd.Output()
	if err != nil {
		return "", fmt.Errorf("the tests of %s fail without any change: mend them first", pkg)
	}
	var names []string
	for d := json.NewDecoder(bytes.NewReader(out)); d.More(); {
		var e struct {
			Action, Test string
			Elapsed      float64
		}
		if err := d.Decode(&e); err != nil {
			return "", fmt.Errorf("what go test -json printed for %s: %w", pkg, err)
		}
		if e.Action == "pass" && e.Test != "" && !strings.Contains(e.Test, "/") && e.Elapsed < 4 {
			names = append(names, regexp.QuoteMeta(e.Test))
		}
	}
	return "^(" + strings.Join(names, "|") + ")$", nil
}

// try runs the tests of a mutant's folder with the file changed for the compiler alone: the quick ones, and the others
// if none of those noticed.
func try(m mutant, quick string, limit time.Duration) (string, error) {
	tmp, err := os.MkdirTemp("", "mutant")
	if err != nil {
		return "", err
	}
	defer os.RemoveAll(tmp)
	changed := filepath.Join(tmp, "changed.go")
	text := string(m.src[:m.from]) + m.text + string(m.src[m.to:])
	if err := os.WriteFile(changed, []byte(text), 0o666); err != nil {
		return "", err
	}
	at, err := filepath.Abs(m.file)
	if err != nil {
		return "", err
	}
	overlay, err := json.Marshal(map[string]map[string]string{"Replace": {at: changed}})
	if err != nil {
		return "", err
	}
	list := filepath.Join(tmp, "overlay.json")
	if err := os.WriteFile(list, overlay, 0o666); err != nil {
		return "", err
	}
	if got := ask(m.pkg, list, "-run="+quick, min(limit, time.Minute)); got != "survived" {
		return got, nil
	}
	return ask(m.pkg, list, "-skip="+quick, limit), nil
}

func ask(pkg, overlay, which string, limit time.Duration) string {
	ctx, cancel := context.WithTimeout(context.Background(), limit)
	defer cancel()
	cmd := exec.CommandContext(ctx, "go", "test", "-overlay", overlay, which, "-failfast", "-vet=off", "-timeout", limit.String(), pkg)
	cmd.WaitDelay = 5 * time.Second
	out, err := cmd.CombinedOutput()
	switch {
	case err == nil:
		return "survived"
	case ctx.Err() != nil, bytes.Contains(out, []byte("panic: test timed out")):
		return "endless"
	case bytes.Contains(out, []byte("[build failed]")), bytes.Contains(out, []byte("[setup failed]")):
		return "unbuilt"
	}
	return "noticed"
}
