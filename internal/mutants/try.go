package main

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// batches runs a folder's tests as they are and deals them into patterns for -run, the quickest first: those that take a
// twentieth of the time together, those that take a fifth, and all others. Most mutants are noticed by the first.
func batches(pkg string) ([]string, error) {
	cmd := exec.Command("go", "test", "-count=1", "-json", pkg)
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("the tests of %s fail without any change: mend them first", pkg)
	}
	type test struct {
		Action, Test string
		Elapsed      float64
	}
	var tests []test
	var all float64
	for d := json.NewDecoder(bytes.NewReader(out)); d.More(); {
		var e test
		if err := d.Decode(&e); err != nil {
			return nil, fmt.Errorf("what go test -json printed for %s: %w", pkg, err)
		}
		if e.Action == "pass" && e.Test != "" && !strings.Contains(e.Test, "/") {
			tests = append(tests, e)
			all += e.Elapsed
		}
	}
	slices.SortStableFunc(tests, func(a, b test) int { return cmp.Compare(a.Elapsed, b.Elapsed) })
	names := make([][]string, 3)
	var sum float64
	for _, t := range tests {
		sum += t.Elapsed
		k := 2
		switch {
		case sum <= all/20:
			k = 0
		case sum <= all/4:
			k = 1
		}
		names[k] = append(names[k], t.Test)
	}
	var patterns []string
	for _, batch := range names {
		if len(batch) > 0 {
			patterns = append(patterns, "^("+strings.Join(batch, "|")+")$")
		}
	}
	return patterns, nil
}

// try runs the tests of a mutant's folder with the file changed for the compiler alone, batch by batch until one notices.
func try(m mutant, batches []string, limit time.Duration) (string, error) {
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
	program := filepath.Join(tmp, "changed.test")
	if err := exec.Command("go", "test", "-c", "-overlay", list, "-vet=off", "-o", program, m.pkg).Run(); err != nil {
		return "unbuilt", nil
	}
	for _, batch := range batches {
		if got := ask(program, filepath.Dir(at), batch, limit); got != "survived" {
			return got, nil
		}
	}
	return "survived", nil
}

// ask runs tests of a program in the folder that they expect to be run in.
func ask(program, dir, batch string, limit time.Duration) string {
	ctx, cancel := context.WithTimeout(context.Background(), limit)
	defer cancel()
	cmd := exec.CommandContext(ctx, program, "-test.run", batch, "-test.failfast", "-test.timeout", limit.String())
	cmd.Dir, cmd.WaitDelay = dir, 5*time.Second
	out, err := cmd.CombinedOutput()
	switch {
	case err == nil:
		return "survived"
	case ctx.Err() != nil, bytes.Contains(out, []byte("panic: test timed out")):
		return "endless"
	}
	return "noticed"
}
