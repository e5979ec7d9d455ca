package campaign

import (
	"bytes"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/capturetest"
	"github.com/fascia-bench/fascia/cmd/fascia/internal/built"
	"github.com/fascia-bench/fascia/suites/demo"
)

// TestInterruptedCommands: commands beside run end as well, within a second by design, whatever they wait for.
func TestInterruptedCommands(t *testing.T) {
	dir := t.TempDir()
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	git := func(args ...string) {
		t.Helper()
		cmd := exec.Command("git", append([]string{"-c", "user.name=a", "-c", "user.email=a@example.org"}, args...)...)
		cmd.Dir = dir
		if out, err := cmd.CombinedOutput(); err != nil {
			t.Fatalf("git %v: %v: %s", args, err, out)
		}
	}
	mute, err := net.Listen("tcp", "127.0.0.1:0") // a camera that takes connections and says nothing
	if err != nil {
		t.Fatal(err)
	}
	defer mute.Close()
	bench := filepath.Join(dir, demo.BenchFile)
	silent := filepath.Join(dir, "silent.yaml")
	text := "bench: b\ntarget: fernhouse-320\ndevice: {link: \"exec:sleep 600\"}\n"
	blind := filepath.Join(dir, "blind.yaml")
	seeing := fmt.Sprintf("bench: b\ntarget: fernhouse-320\ndevice: {link: \"twin:fernhouse-draw-1.wasm\"}\ncamera:\n  source: http://%s/\n  timeout: 10m\n", mute.Addr())
	if err := errors.Join(os.WriteFile(silent, []byte(text), 0o666), os.WriteFile(blind, []byte(seeing), 0o666)); err != nil {
		t.Fatal(err)
	}
	git("init", "-q")
	git("add", "-A")
	git("commit", "-qm", "one")
	git("commit", "-qm", "two", "--allow-empty")
	for _, tt := range []struct {
		name string
		args []string
	}{
		{"wander", []string{"wander", "--bench", bench, "--steps", "10000000", "-o", filepath.Join(dir, "wander")}},
		{"a capture of a device that never answers", []string{"capture", "--bench", silent, "-o", filepath.Join(dir, "c.png")}},
		{"the health of one", []string{"bench", "check", "--bench", silent}},
		{"aligning by a camera that never answers", []string{"bench", "align", "--bench", blind}},
		{"bisect, with a build that hangs", []string{"bisect", "HEAD~1", "HEAD", "--bench", bench, "--build", "sleep 60", "--look", "about/about"}},
	} {
		var out bytes.Buffer
		cmd := exec.Command(built.Path, tt.args...)
		cmd.Dir, cmd.Stdout, cmd.Stderr = dir, &out, &out
		cmd.WaitDelay = 500 * time.Millisecond // a build that was left running holds the pipe
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Second)
		interrupted(t, tt.name, cmd, &out)
	}

	built.Run(t, built.OK, "run", "--bench", bench, "about")
	url, cmd, stop := built.Serve(t, "review", "--bench", bench, "--listen", "127.0.0.1:0")
	host, _, _ := strings.Cut(strings.TrimPrefix(url, "http://"), "/")
	c, err := net.Dial("tcp", host) // who begins to ask, and does not go on
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := fmt.Fprintf(c, "POST /approve HTTP/1.1\r\nHost: %s\r\nContent-Length: 1000\r\n\r\n{", host); err != nil {
		t.Fatal(err)
	}
	time.Sleep(300 * time.Millisecond)
	late := time.AfterFunc(20*capturetest.Bound, func() { t.Error("review: it had to be killed"); cmd.Process.Kill() })
	asked := time.Now()
	stop()
	late.Stop()
	t.Logf("review, with a request that does not end: ended %v after it was interrupted", time.Since(asked).Round(time.Millisecond))
}

// interrupted interrupts a command and tells how long that took.
func interrupted(t *testing.T, name string, cmd *exec.Cmd, out *bytes.Buffer) {
	t.Helper()
	if err := cmd.Process.Signal(os.Interrupt); err != nil {
		_ = cmd.Wait()
		t.Errorf("%s: it had ended: %s", name, out)
		return
	}
	asked := time.Now()
	late := time.AfterFunc(20*capturetest.Bound, func() { cmd.Process.Kill() })
	_ = cmd.Wait()
	if !late.Stop() {
		t.Errorf("%s: it had to be killed:\n%s", name, out)
		return
	}
	if status := cmd.ProcessState.ExitCode(); status != built.NoVerdict {
		t.Errorf("%s: exit status %d:\n%s", name, status, out)
	}
	t.Logf("%s: ended %v after it was interrupted; by design it is at most %v", name, time.Since(asked).Round(time.Millisecond), capturetest.Bound)
}
