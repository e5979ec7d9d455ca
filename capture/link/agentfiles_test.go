package link_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture/capturetest"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/link/line"
)

// leadsSomewhere fails where a page of those files has a link to a file that is not there.
func leadsSomewhere(t *testing.T, files []string) {
	t.Helper()
	links := 0
	for _, file := range files {
		if filepath.Ext(file) != ".md" {
			continue
		}
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`\]\(([^)]+)\)`).FindAllStringSubmatch(string(text), -1) {
			to, _, _ := strings.Cut(m[1], "#")
			if strings.Contains(to, "://") || to == "" {
				continue
			}
			links++
			to = filepath.Join(filepath.Dir(file), filepath.FromSlash(to))
			if !slices.Contains(files, to) {
				t.Errorf("%s: the link to %s leads out of what is written", filepath.Base(file), m[1])
			}
		}
	}
	if links == 0 {
		t.Error("no page has a link: are they still found?")
	}
}

// What WriteAgent writes is enough to build the example as its first lines say, and to talk to it.
func TestTheWrittenAgentIsADevice(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "lib", "fascia")
	files, err := link.WriteAgent(dir, false)
	if err != nil || len(files) != 8 {
		t.Fatalf("%v, %v", files, err)
	}
	cmd := exec.Command("gcc", append(slices.Clone(capturetest.Strict), "-o", "device", "host_main.c", "../fascia_agent.c")...)
	cmd.Dir = filepath.Join(dir, "examples")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("gcc: %v\n%s", err, out)
	}
	s, err := line.Open(t.Context(), "exec:./device", line.Options{Dir: cmd.Dir})
	if err != nil {
		t.Fatal(err)
	}
	c := dial(t, s, link.Options{})
	defer c.Close()
	if l := look(t, c, soon); l.Frame.Width != 64 || l.Hash != link.HashFrame(l.Frame) {
		t.Errorf("%v", l.Frame)
	}

	cmd = exec.Command("gcc", append(slices.Clone(capturetest.Strict), "-DFASCIA_STRIP=1", "-o", "strips", "strip.c", "../fascia_agent.c")...)
	cmd.Dir = filepath.Join(dir, "examples")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("gcc: %v\n%s", err, out)
	}
	s2, err := line.Open(t.Context(), "exec:./strips", line.Options{Dir: cmd.Dir})
	if err != nil {
		t.Fatal(err)
	}
	strips := dial(t, s2, link.Options{})
	defer strips.Close()
	if l := look(t, strips, soon); l.Redrawn || !bytes.Equal(l.Frame.Pix, look(t, c, soon).Frame.Pix) {
		t.Error("the two examples do not show the same")
	}
	if err := strips.Input(t.Context(), link.Event{Kind: link.Turn, A: 30}); err != nil {
		t.Fatal(err)
	}
	if l := look(t, strips, soon); l.Redrawn || l.Frame.Pix[2*(64*20+37)] != 0xe0 || l.Hash != link.HashFrame(l.Frame) {
		t.Error("the bar has not grown to 38 pixels")
	}

	leadsSomewhere(t, files)

	if again, err := link.WriteAgent(dir, false); err != nil || len(again) != 8 {
		t.Errorf("the same files again: %v", err)
	}
	mine := filepath.Join(dir, "fascia_agent.h")
	if err := os.WriteFile(mine, []byte("mine"), 0o666); err != nil {
		t.Fatal(err)
	}
	if _, err := link.WriteAgent(dir, false); err == nil || !strings.Contains(err.Error(), mine) {
		t.Errorf("a changed file: %v", err)
	}
	if b, _ := os.ReadFile(mine); string(b) != "mine" {
		t.Error("a changed file was overwritten")
	}
	if _, err := link.WriteAgent(dir, true); err != nil {
		t.Error(err)
	}
}
