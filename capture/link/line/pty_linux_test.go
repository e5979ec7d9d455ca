package line_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/link/line"
)

// pty opens a pseudo terminal: the end that a device holds, and the path of the other.
func pty(t *testing.T) (*os.File, string) {
	t.Helper()
	m, err := os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if err := unix.IoctlSetPointerInt(int(m.Fd()), unix.TIOCSPTLCK, 0); err != nil {
		t.Fatal(err)
	}
	n, err := unix.IoctlGetInt(int(m.Fd()), unix.TIOCGPTN)
	if err != nil {
		t.Fatal(err)
	}
	return m, fmt.Sprintf("/dev/pts/%d", n)
}

// plug puts a device on a pseudo terminal behind that path; unplug takes it away.
func plug(t *testing.T, path string) (unplug func()) {
	t.Helper()
	m, pts := pty(t)
	cmd := exec.Command(hostBuild(t))
	cmd.Stdin, cmd.Stdout = m, m
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	os.Remove(path)
	if err := os.Symlink(pts, path); err != nil {
		t.Fatal(err)
	}
	done := false
	unplug = func() {
		if done {
			return
		}
		done = true
		os.Remove(path)
		cmd.Process.Kill()
		cmd.Wait()
		m.Close()
	}
	t.Cleanup(unplug)
	return unplug
}

// lateness measures by how much this process gets the processor too late, at worst, until it is asked.
func lateness(t *testing.T) func() time.Duration {
	stop, worst := make(chan struct{}), make(chan time.Duration, 1)
	go func() {
		var most time.Duration
		for last := time.Now(); ; {
			select {
			case <-stop:
				worst <- most
				return
			case <-time.After(10 * time.Millisecond):
				most = max(most, time.Since(last)-10*time.Millisecond)
				last = time.Now()
			}
		}
	}()
	return sync.OnceValue(func() time.Duration {
		close(stop)
		return <-worst
	})
}

// The serial path, on a pseudo terminal: it is lost, that is said at once, and it comes back.
func TestSerialThatIsUnplugged(t *testing.T) {
	port := filepath.Join(t.TempDir(), "port")
	unplug := plug(t, port)
	off := false
	var n notices
	var lost time.Time
	s, err := line.Open(t.Context(), "serial:"+port+"?baud=921600", line.Options{
		Lines: line.Lines{DTR: &off, RTS: &off, Reset: "rts"}, Patience: time.Minute, Notice: func(s string) {
			if strings.Contains(s, "is lost") {
				lost = time.Now()
			}
			n.add(s)
		}})
	if err != nil {
		t.Fatal(err)
	}
	c, err := link.Dial(t.Context(), s, patient)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if got := bar(t, c); got != 8 {
		t.Errorf("bar %d", got)
	}
	if !n.has("has no DTR and RTS lines") {
		t.Errorf("a pseudo terminal has no lines to set, and nothing says so: %q", n.said)
	}
	if err := s.Reset(); err == nil {
		t.Error("a pseudo terminal's RTS was pulsed")
	}
	unplug()
	start := time.Now()
	late := lateness(t)
	ctx, cancel := context.WithTimeout(t.Context(), 3*time.Second)
	defer cancel()
	if _, err := c.Look(ctx, still); !errors.Is(err, link.ErrSilent) && !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("unplugged: %v, want ErrSilent", err)
	}
	// It is said within 3 s: a promise to people. What the machine gives to others meanwhile is not counted.
	if took := lost.Sub(start); lost.IsZero() || took > 3*time.Second+20*late() {
		t.Errorf("%v after it was unplugged: %q", took, n.said)
	}
	plug(t, port)
	var restarted *link.RestartError
	if _, err := c.Look(t.Context(), still); !errors.As(err, &restarted) {
		t.Errorf("plugged in again: %v, want a RestartError", err)
	}
	if err := c.Greet(t.Context()); err != nil {
		t.Fatal(err)
	}
	if got := bar(t, c); got != 8 || !n.has("is back") {
		t.Errorf("bar %d, %q", got, n.said)
	}
}
