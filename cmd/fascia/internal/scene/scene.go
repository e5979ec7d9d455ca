// Package scene is for tests: a firmware's repository as examples and guides take it for granted, in which
// commands are executed as a person types them.
package scene

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/cmd/fascia/internal/built"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/record"
)

// FirstRun is the older of the scene's two runs, as examples name it.
const (
	FirstRun  = "runs/2031-05-04-093000"
	secondRun = "runs/2031-06-01-101500"
)

// base is a firmware's repository as examples take it for granted: the demo's bench, walks and goldens, two runs
// of it on the upgraded drawing layer, and pictures. It is made once and copied.
var base = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "fascia-scene")
	if err != nil {
		return "", err
	}
	if err := demo.Unpack(dir); err != nil {
		return "", err
	}
	if err := exec.Command(built.Path, "run", "--bench", filepath.Join(dir, demo.UpgradeFile)).Run(); err != nil && err.Error() != "exit status 1" {
		return "", err
	}
	made, err := record.Latest(filepath.Join(dir, "runs"))
	if err != nil {
		return "", err
	}
	if err := os.Rename(made, filepath.Join(dir, FirstRun)); err != nil {
		return "", err
	}
	if err := os.CopyFS(filepath.Join(dir, secondRun), os.DirFS(filepath.Join(dir, FirstRun))); err != nil {
		return "", err
	}
	golden := filepath.Join(dir, "golden/fernhouse-320/alarm/tank-is-low.png")
	capture := filepath.Join(dir, FirstRun, "alarm/tank-is-low.png")
	for name, from := range map[string]string{
		"home.png": golden, "golden.png": golden, "pictures/before/tank.png": golden,
		"pressed.png": capture, "capture.png": capture, "pictures/after/tank.png": capture,
		"green-1.yaml": filepath.Join(dir, demo.BenchFile), "green-2.yaml": filepath.Join(dir, demo.BenchFile),
	} {
		data, err := os.ReadFile(from)
		if err != nil {
			return "", err
		}
		to := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(to), 0o777); err != nil {
			return "", err
		}
		if err := os.WriteFile(to, data, 0o666); err != nil {
			return "", err
		}
	}
	return dir, nil
})

// A Scene is a folder in which commands are executed.
type Scene struct {
	t   *testing.T
	Dir string
}

// Empty is a scene in an empty folder.
func Empty(t *testing.T) Scene { return Scene{t, t.TempDir()} }

// New is a copy of the base, which commands may change.
func New(t *testing.T) Scene {
	t.Helper()
	from, err := base()
	if err != nil {
		t.Fatalf("make the scene: %v", err)
	}
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS(from)); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, ".gitconfig"), []byte("[user]\n\tname = Wren\n\temail = wren@fernhouse.example\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	return Scene{t, dir}
}

// Sh runs a line as a shell would, with the built command on the path, and returns its exit status and output. A
// command that serves until it is told to stop is told so once it has said where it listens.
func (s Scene) Sh(line string) (int, string) {
	s.t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 9*time.Minute)
	defer cancel()
	serves := strings.HasPrefix(line, "fascia review")
	if serves {
		line = "exec " + line // so that there is no shell that would die of being told to stop
	}
	cmd := exec.CommandContext(ctx, "sh", "-c", line)
	cmd.Dir = s.Dir
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	cmd.Cancel = func() error { return syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL) }
	cmd.WaitDelay = 10 * time.Second
	cmd.Env = append(os.Environ(), "PATH="+filepath.Dir(built.Path)+":"+os.Getenv("PATH"), "GIT_CONFIG_GLOBAL="+filepath.Join(s.Dir, ".gitconfig"), "GIT_CONFIG_SYSTEM=/dev/null")
	out := &watched{says: "http://", found: func() { _ = syscall.Kill(-cmd.Process.Pid, syscall.SIGINT) }}
	if !serves {
		out.found = nil
	}
	cmd.Stdout, cmd.Stderr = out, out
	err := cmd.Run()
	if ctx.Err() != nil {
		s.t.Fatalf("%s: it did not end:\n%s", line, out.text.String())
	}
	if err != nil && cmd.ProcessState == nil {
		s.t.Fatalf("%s: %v", line, err)
	}
	return cmd.ProcessState.ExitCode(), out.text.String()
}

// watched is an output in which something is waited for.
type watched struct {
	mu    sync.Mutex
	text  bytes.Buffer
	says  string
	found func()
}

func (w *watched) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.text.Write(p)
	if w.found != nil && strings.Contains(w.text.String(), w.says) {
		w.found()
		w.found = nil
	}
	return len(p), nil
}

// Cut leaves a run as if it had been cut off in its last walk.
func (s Scene) Cut(dir string) {
	s.t.Helper()
	run, err := record.Load(filepath.Join(s.Dir, dir))
	if err != nil {
		s.t.Fatal(err)
	}
	run.Ended = time.Time{}
	run.Walks[len(run.Walks)-1].Done = false
	if err := record.Save(filepath.Join(s.Dir, dir, record.File), run); err != nil {
		s.t.Fatal(err)
	}
}

// Prepared is a preparation of a scene: lines that must not fail.
func Prepared(lines ...string) func(Scene) {
	return func(s Scene) {
		for _, l := range lines {
			if status, out := s.Sh(l); status > 1 {
				s.t.Fatalf("prepare with %s: exit status %d\n%s", l, status, out)
			}
		}
	}
}
