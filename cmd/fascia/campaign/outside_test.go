package campaign

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/cmd/fascia/internal/built"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/demo"
	"github.com/fascia-bench/fascia/suites/record"
)

// A disk that is full, and one that may not be written to: the run says so and has no verdict; with room again
// the same walks are as approved. Where no disk can be mounted, TestCaptureThatCannotBeKept stands for it.
func TestRunOnFullDisk(t *testing.T) {
	dir := t.TempDir()
	if os.Getuid() != 0 || exec.Command("mount", "-t", "tmpfs", "-o", "size=2m", "tmpfs", dir).Run() != nil {
		t.Skip("no disk of its own can be mounted here: it wants root with CAP_SYS_ADMIN")
	}
	t.Cleanup(func() { exec.Command("umount", dir).Run() })
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	bench := filepath.Join(dir, demo.BenchFile)
	filler := filepath.Join(dir, "filler")
	for _, left := range []int64{0, 8 << 10, 40 << 10, 120 << 10} {
		var disk syscall.Statfs_t
		if err := syscall.Statfs(dir, &disk); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filler, make([]byte, int64(disk.Bavail)*disk.Bsize-left), 0o666); err != nil {
			t.Fatal(err)
		}
		out := built.Run(t, built.NoVerdict, "run", "--bench", bench)
		if !strings.Contains(out, "no space left on device") {
			t.Errorf("with %d bytes left the run says\n%s", left, out)
		}
		runs, _ := filepath.Glob(filepath.Join(dir, suites.RunsDir, "*", record.File))
		for _, file := range runs {
			if run, err := record.Load(filepath.Dir(file)); err != nil {
				t.Errorf("with %d bytes left: %v", left, err)
			} else if run.Exit() != built.NoVerdict {
				t.Errorf("with %d bytes left the record's status is %d", left, run.Exit())
			}
		}
		if err := errors.Join(os.Remove(filler), os.RemoveAll(filepath.Join(dir, suites.RunsDir))); err != nil {
			t.Fatal(err)
		}
	}
	if out := built.Run(t, built.OK, "run", "--bench", bench, "about"); !strings.Contains(out, "4 looks: 4 same") {
		t.Errorf("with room again:\n%s", out)
	}
	if out, err := exec.Command("mount", "-o", "remount,ro", dir).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	if out := built.Run(t, built.NoVerdict, "run", "--bench", bench, "about"); !strings.Contains(out, "read-only file system") {
		t.Errorf("on a disk that is read-only:\n%s", out)
	}
}

// Whoever interrupts a run is obeyed at once, whatever the device does; what was recorded stays.
func TestInterruptedRun(t *testing.T) {
	dir := t.TempDir()
	if err := demo.Unpack(dir); err != nil {
		t.Fatal(err)
	}
	write := func(name, text string) string {
		file := filepath.Join(dir, name)
		if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
		return file
	}
	head := "bench: b\ntarget: fernhouse-320\ndevice: {link: "
	for name, bench := range map[string]string{
		"a device that never answers": write("silent.yaml", head+"\"exec:sleep 600\"}\n"),
		"a device that only babbles":  write("babble.yaml", head+"\"exec:yes humidity 68\"}\n"),
		"a command that hangs":        write("hangs.yaml", head+"\"twin:fernhouse-draw-1.wasm\", before: \"sleep 600\"}\n"),
		"a build that hangs":          write("build.yaml", head+"\"twin:fernhouse-draw-1.wasm\", expect: {build: \"sleep 600\"}}\n"),
		"a run that goes well":        filepath.Join(dir, demo.BenchFile),
	} {
		var out bytes.Buffer
		cmd := exec.Command(built.Path, "run", "--bench", bench, "--again", "200")
		cmd.Stdout, cmd.Stderr = &out, &out
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(700 * time.Millisecond)
		if err := cmd.Process.Signal(os.Interrupt); err != nil {
			t.Errorf("%s: it had ended: %s", name, out.String())
			continue
		}
		asked := time.Now()
		late := time.AfterFunc(30*time.Second, func() { cmd.Process.Kill() })
		_ = cmd.Wait()
		if !late.Stop() {
			t.Errorf("%s: it had to be killed:\n%s", name, out.String())
			continue
		}
		if status := cmd.ProcessState.ExitCode(); status != built.NoVerdict {
			t.Errorf("%s: exit status %d:\n%s", name, status, out.String())
		}
		t.Logf("%s: ended %v after it was interrupted", name, time.Since(asked).Round(time.Millisecond))
	}
	runs, _ := filepath.Glob(filepath.Join(dir, suites.RunsDir, "*"))
	for _, r := range runs {
		if _, err := os.Stat(filepath.Join(r, record.File)); err != nil {
			continue // it was interrupted before it had a record
		}
		if run, err := record.Load(r); err != nil || run.Exit() != built.NoVerdict {
			t.Errorf("%s: %v, status %d", r, err, run.Exit())
		}
	}
}
