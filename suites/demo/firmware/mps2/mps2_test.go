package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/link/line"
	"github.com/fascia-bench/fascia/capture/twin"
)

const demo = "../.."

// elf builds the firmware, or skips where the cross compiler or the emulator is missing.
func elf(t *testing.T, draw int, extra ...string) string {
	t.Helper()
	for _, tool := range []string{"arm-none-eabi-gcc", "qemu-system-arm"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skipf("needs %s; on Debian: apt install gcc-arm-none-eabi qemu-system-arm", tool)
		}
	}
	built.Lock()
	defer built.Unlock()
	if built.dir == "" {
		var err error
		if built.dir, err = os.MkdirTemp("", "fascia-mps2"); err != nil {
			t.Fatal(err)
		}
	}
	out := filepath.Join(built.dir, fmt.Sprintf("draw-%d%s.elf", draw, strings.Join(extra, "")))
	if _, err := os.Stat(out); err == nil {
		return out
	}
	if err := build(filepath.Join(demo, "firmware"), out, draw, extra...); err != nil {
		t.Fatal(err)
	}
	return out
}

// built keeps what was compiled for the tests after the first.
var built struct {
	sync.Mutex
	dir string
}

func TestMain(m *testing.M) {
	code := m.Run()
	if built.dir != "" {
		os.RemoveAll(built.dir)
	}
	os.Exit(code)
}

func machine(elf string) []string {
	return []string{"-M", "mps2-an385", "-kernel", elf, "-display", "none", "-monitor", "none"}
}

// A shot is what one look showed, and what the firmware had printed by then.
type shot struct {
	name string
	hash uint64
	pix  []byte
}

// tour drives the UI through some screens, by touch, key, knob and feed, with the clock held.
func tour(t *testing.T, c *link.Conn) []shot {
	t.Helper()
	ctx := t.Context()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	var shots []shot
	look := func(name string) {
		t.Helper()
		l, err := c.Look(ctx, link.LookOptions{Still: 300 * time.Millisecond, Latest: 8 * time.Second})
		must(err)
		if l.Moving {
			t.Errorf("%s did not become still", name)
		}
		shots = append(shots, shot{name, l.Hash, l.Frame.Pix})
	}
	key := func(usage int) {
		t.Helper()
		must(c.Input(ctx, link.Event{Kind: link.KeyDown, A: 7, B: usage}))
		must(c.Input(ctx, link.Event{Kind: link.KeyUp, A: 7, B: usage, After: 60 * time.Millisecond}))
	}
	must(c.SetClock(ctx, time.Date(2031, 5, 4, 9, 30, 0, 0, time.UTC), true))
	must(c.Wait(ctx, 3*time.Second)) // past the splash
	look("first")
	must(c.Feed(ctx, "temperature", "21.4"))
	look("fed")
	must(c.Input(ctx, link.Event{Kind: link.Turn, A: 2}))
	look("turned")
	key(0x28)
	look("entered")
	must(c.Input(ctx, link.Event{Kind: link.TouchDown, A: 160, B: 120}))
	must(c.Input(ctx, link.Event{Kind: link.TouchUp, A: 160, B: 120, After: 80 * time.Millisecond}))
	look("touched")
	key(0x29)
	look("back")
	targets, err := c.List(ctx, link.Targets)
	must(err)
	shots = append(shots, shot{fmt.Sprint(targets), 0, nil})
	return shots
}

func compare(t *testing.T, got, want []shot) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%d looks, the twin has %d", len(got), len(want))
	}
	distinct := map[uint64]bool{}
	for i := range want {
		if got[i].name != want[i].name {
			t.Errorf("%q, on the twin %q", got[i].name, want[i].name)
		}
		if got[i].hash != want[i].hash || !bytes.Equal(got[i].pix, want[i].pix) {
			n := 0
			for k := range want[i].pix {
				if got[i].pix[k] != want[i].pix[k] {
					n++
				}
			}
			t.Errorf("look %q: %d bytes differ from the twin's", want[i].name, n)
		}
		distinct[want[i].hash] = true
	}
	if len(distinct) < 4 {
		t.Errorf("the tour shows %d screens only", len(distinct))
	}
}

func onTwin(t *testing.T, draw int) []shot {
	t.Helper()
	wasm, err := os.ReadFile(filepath.Join(demo, fmt.Sprintf("fernhouse-draw-%d.wasm", draw)))
	if err != nil {
		t.Fatal(err)
	}
	p, err := twin.Load(t.Context(), wasm)
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	tw, err := p.Boot()
	if err != nil {
		t.Fatal(err)
	}
	c, err := link.Dial(t.Context(), tw, link.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return tour(t, c)
}

func dial(t *testing.T, text string, opt line.Options) (*link.Conn, *line.Stream) {
	t.Helper()
	s, err := line.Open(t.Context(), text, opt)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	c, err := link.Dial(t.Context(), s, link.Options{Tries: 8})
	if err != nil {
		t.Fatal(err)
	}
	return c, s
}

// The same firmware, compiled for another processor and run on a serial port in real time, shows
// the same bytes, with the other core of this machine at work too.
func TestCapturesEqualTheTwins(t *testing.T) {
	t.Parallel()
	want := onTwin(t, 1)
	image := elf(t, 1)
	run := "qemu-system-arm " + strings.Join(machine(image), " ") + " -serial stdio"
	t.Run("stdio", func(t *testing.T) {
		t.Parallel()
		c, _ := dial(t, "exec:"+run, line.Options{})
		compare(t, tour(t, c), want)
	})
	t.Run("tcp, under load", func(t *testing.T) {
		t.Parallel()
		var stop atomic.Bool
		defer stop.Store(true)
		go func() {
			for x := 1; !stop.Load(); x++ {
				if x%1000 == 0 {
					runtime.Gosched()
				}
			}
		}()
		c, _ := dial(t, "tcp:"+overTCP(t, image), line.Options{})
		compare(t, tour(t, c), want)
	})
	t.Run("pty", func(t *testing.T) {
		t.Parallel()
		c, _ := dial(t, "serial:"+overPTY(t, image)+"?baud=921600", line.Options{})
		compare(t, tour(t, c), want)
	})
}

func start(t *testing.T, args ...string) (*exec.Cmd, *bytes.Buffer) {
	t.Helper()
	cmd := exec.Command("qemu-system-arm", args...)
	var said bytes.Buffer
	cmd.Stdout, cmd.Stderr = &said, &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cmd.Process.Kill()
		cmd.Wait()
	})
	return cmd, &said
}

// overTCP starts the machine with its port on a loopback socket, and lets it run when somebody
// connects, so that nothing printed at boot is lost.
func overTCP(t *testing.T, image string) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := l.Addr().String()
	l.Close() // for the machine to take
	cmd, said := start(t, append(machine(image), "-serial", "tcp:"+address+",server=on,wait=on,nodelay=on")...)
	for range 100 {
		time.Sleep(50 * time.Millisecond)
		if listening(cmd.Process.Pid, address) {
			return address
		}
	}
	t.Fatalf("the emulator does not listen: %s", said)
	return ""
}

// listening reports whether a process listens there, without connecting: the machine takes one
// connection.
func listening(pid int, address string) bool {
	table, err := os.ReadFile(fmt.Sprintf("/proc/%d/net/tcp", pid))
	if err != nil {
		return false
	}
	_, port, _ := net.SplitHostPort(address)
	var n int
	fmt.Sscan(port, &n)
	return bytes.Contains(table, fmt.Appendf(nil, ":%04X 00000000:0000 0A", n))
}

func overPTY(t *testing.T, image string) string {
	t.Helper()
	out := filepath.Join(t.TempDir(), "out")
	f, err := os.Create(out)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	cmd := exec.Command("qemu-system-arm", append(machine(image), "-serial", "pty")...)
	cmd.Stdout, cmd.Stderr = f, f
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cmd.Process.Kill()
		cmd.Wait()
	})
	for range 100 {
		time.Sleep(50 * time.Millisecond)
		said, _ := os.ReadFile(out)
		if m := regexp.MustCompile(`/dev/pts/\d+`).Find(said); m != nil {
			return string(m)
		}
	}
	t.Fatal("the emulator names no pseudo terminal")
	return ""
}

func TestTheMachineIsKilled(t *testing.T) {
	t.Parallel()
	image := elf(t, 1)
	pidFile := filepath.Join(t.TempDir(), "pid")
	run := "qemu-system-arm " + strings.Join(machine(image), " ") + " -serial stdio -pidfile " + pidFile
	c, _ := dial(t, "exec:"+run, line.Options{})
	kill := func() {
		t.Helper()
		b, err := os.ReadFile(pidFile)
		if err != nil {
			t.Fatal(err)
		}
		var pid int
		fmt.Sscan(string(b), &pid)
		p, err := os.FindProcess(pid)
		if err != nil {
			t.Fatal(err)
		}
		if err := p.Kill(); err != nil {
			t.Fatal(err)
		}
	}
	before := c.Hello().Boot
	opt := link.LookOptions{Still: 100 * time.Millisecond, Latest: 5 * time.Second}
	if _, err := c.Look(t.Context(), opt); err != nil {
		t.Fatal(err)
	}
	kill()
	_, err := c.Look(t.Context(), opt)
	var restarted *link.RestartError
	if !errors.As(err, &restarted) {
		t.Fatalf("after the machine was killed a look gives %v, want a RestartError", err)
	}
	if err := c.Greet(t.Context()); err != nil {
		t.Fatal(err)
	}
	if c.Hello().Boot == before {
		t.Error("another start has the same boot id")
	}
	if _, err := c.Look(t.Context(), opt); err != nil {
		t.Errorf("after it was started again: %v", err)
	}
}

func TestResetIsAsked(t *testing.T) {
	t.Parallel()
	c, _ := dial(t, "exec:qemu-system-arm "+strings.Join(machine(elf(t, 1)), " ")+" -serial stdio", line.Options{})
	before := c.Hello()
	if before.Reset.String() != "power" || before.Library != "draw-1" {
		t.Errorf("%+v", before)
	}
	// A machine that shares its cores with a whole test run takes long to boot.
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Minute)
	defer cancel()
	if err := c.Reset(ctx, time.Minute); err != nil {
		t.Fatal(err)
	}
	if h := c.Hello(); h.Boot == before.Boot || h.Reset.String() != "asked" {
		t.Errorf("%+v", h)
	}
}
