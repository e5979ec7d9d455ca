package link_test

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/capturetest"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/link/line"
)

// bad opens a device that misbehaves in that way.
func bad(t *testing.T, how string, notice func(string)) link.Stream {
	t.Helper()
	program := capturetest.Compile(t, t.TempDir(), nil, "bad_device.c")
	s, err := line.Open(t.Context(), "exec:"+program+" "+how, line.Options{Notice: notice})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// A firmware that dies in its flush hook, or lies about its size, ends in a sentence that says what was seen.
func TestBadFirmwareEndsInASentence(t *testing.T) {
	redraw := link.LookOptions{Still: time.Millisecond, Latest: time.Second, Redraw: true}
	tests := []struct {
		how, want, why string
		talk           func(c *link.Conn) error
	}{
		{"assert", "does not answer", "it dies at each repeat of the request, and its last words are handed on", func(c *link.Conn) error {
			_, err := c.Look(t.Context(), redraw)
			return err
		}},
		{"large", "5000x48: not between 1 and 4080", "no panel is as large", nil},
		{"shrinks", "disagree about the panel's size", "hashes of another number of bands come than the panel has", func(c *link.Conn) error {
			if _, err := c.Look(t.Context(), soon); err != nil {
				t.Error(err)
			}
			if err := c.Input(t.Context(), link.Event{Kind: link.Turn, A: 1}); err != nil {
				t.Error(err)
			}
			_, err := c.Look(t.Context(), soon)
			return err
		}},
	}
	for _, tt := range tests {
		t.Run(tt.how, func(t *testing.T) {
			var mu sync.Mutex
			var said strings.Builder
			c, err := link.Dial(t.Context(), bad(t, tt.how, func(s string) {
				mu.Lock()
				defer mu.Unlock()
				said.WriteString(s + "\n")
			}), link.Options{})
			if err == nil && tt.talk != nil {
				err = tt.talk(c)
			}
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("%v, want %q: %s", err, tt.want, tt.why)
			}
			mu.Lock()
			defer mu.Unlock()
			if tt.how == "assert" && !strings.Contains(said.String(), "areas_flushed > 0") {
				t.Errorf("the assertion is not told: %s", &said)
			}
		})
	}
}

// A device that prints as fast as the line takes it, into its frames too, is looked at right or given up within the
// bound; the host neither hangs nor hands on a wrong picture.
func TestALogThatFloodsTheLine(t *testing.T) {
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	lines := 0
	c, err := link.Dial(ctx, bad(t, "flood", nil), link.Options{Bound: 5 * time.Second, Log: func(link.LogLine) { lines++ }})
	var l link.Look
	if err == nil {
		l, err = c.Look(ctx, link.LookOptions{Still: time.Millisecond, Latest: time.Second})
	}
	var late *link.BoundError
	switch {
	case err == nil && link.HashFrame(l.Frame) != l.Hash:
		t.Error("a wrong picture was handed on")
	case err != nil && !errors.Is(err, link.ErrSilent) && !errors.As(err, &late):
		t.Errorf("%v: want a picture, or that none came in time", err)
	}
	if lines == 0 {
		t.Error("none of the log was handed on")
	}
	t.Logf("%d lines, %v", lines, err)
}

// The CMake file builds the agent as a library, with and without its option, and the Arduino-style properties
// hold what such a library must say (the Arduino library specification, revision 2.2; from memory).
func TestBuildFilesOfTheAgent(t *testing.T) {
	if _, err := exec.LookPath("cmake"); err != nil {
		t.Skip("needs cmake; on Debian: apt install cmake")
	}
	dir := filepath.Join(t.TempDir(), "agent")
	if _, err := link.WriteAgent(dir, false); err != nil {
		t.Fatal(err)
	}
	for _, option := range []string{"-DFASCIA_DENSE=OFF", "-DFASCIA_DENSE=ON"} {
		build := filepath.Join(t.TempDir(), "build")
		for _, args := range [][]string{{"-S", dir, "-B", build, option}, {"--build", build}} {
			if out, err := exec.Command("cmake", args...).CombinedOutput(); err != nil {
				t.Fatalf("cmake %v: %v\n%s", args, err, out)
			}
		}
		if out, err := exec.Command("nm", filepath.Join(build, "libfascia_agent.a")).Output(); err != nil ||
			!strings.Contains(string(out), " T fascia_poll") || strings.Contains(string(out), "next_keyed") && option == "-DFASCIA_DENSE=OFF" {
			t.Errorf("%s: %v\n%s", option, err, out)
		}
	}
	text, err := os.ReadFile(filepath.Join(dir, "library.properties"))
	if err != nil {
		t.Fatal(err)
	}
	properties := map[string]string{}
	for line := range strings.Lines(string(text)) {
		key, value, ok := strings.Cut(strings.TrimSuffix(line, "\n"), "=")
		if !ok || value == "" {
			t.Errorf("library.properties: %q is no key=value", line)
		}
		properties[key] = value
	}
	for _, key := range []string{"name", "version", "author", "maintainer", "sentence", "paragraph", "category", "url", "architectures"} {
		if properties[key] == "" {
			t.Errorf("library.properties lacks %s", key)
		}
	}
	if _, err := os.Stat(filepath.Join(dir, properties["includes"])); err != nil || properties["category"] != "Display" {
		t.Errorf("library.properties: includes %q, category %q", properties["includes"], properties["category"])
	}
}
