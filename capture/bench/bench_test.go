package bench

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/link"
)

// hostDevice compiles the example of a host build, a device of 64x48 pixels, into dir.
func hostDevice(t *testing.T, dir string) {
	t.Helper()
	agent := filepath.Join("..", "link", "agent")
	out, err := exec.Command("gcc", "-std=c99", "-o", filepath.Join(dir, "device"),
		filepath.Join(agent, "examples", "host_main.c"), filepath.Join(agent, "fascia_agent.c")).CombinedOutput()
	if err != nil {
		t.Fatalf("compile the host build (it needs gcc): %v\n%s", err, out)
	}
}

func write(t *testing.T, dir, text string) string {
	t.Helper()
	file := filepath.Join(dir, "bench.yaml")
	if err := os.WriteFile(file, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
	return file
}

func TestRead(t *testing.T) {
	b, err := Read(write(t, t.TempDir(), `
bench: green-1
target: fernhouse-320
device:
  link: serial:/dev/ttyUSB0?baud=921600
  lines: {open: {dtr: off, rts: on}, reset: rts}
  before: make flash
  power: {off: ./relay off, on: ./relay on}
  expect: {build: git describe --always}
  restarts: ["panic", "assert*failed"]
panel: {width: 320, height: 240, format: rgb565}
commands: {door-open: ./door open}
camera:
  source: photos
  average: 2
  drop: 0
  timeout: 3s
  exposure: -6
  false-alarm: 1e-3
  lamps: {status: [1540, 300.5, 12]}
  aligned:
    photo: [1920, 1080]
    panel: [320, 240]
    plane: [1, 0, 0, 0, 1, 0, 0, 0]
    lens: {k1: -0.1, k2: 0.01, p1: 0, p2: 0}
    optics: {file: bench.optics, sha256: 0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef}
`))
	if err != nil {
		t.Fatal(err)
	}
	if b.Lines.DTR == nil || *b.Lines.DTR || b.Lines.RTS == nil || !*b.Lines.RTS || b.Lines.Reset != "rts" {
		t.Errorf("lines = %+v", b.Lines)
	}
	if b.Before != "make flash" || b.PowerOn != "./relay on" || b.Build != "git describe --always" || len(b.Restarts) != 2 || b.Commands["door-open"] != "./door open" {
		t.Errorf("read %+v", b)
	}
	c := b.Camera
	if c == nil || c.Source != "photos" || c.Options.Average != 2 || c.Options.Drop != -1 || c.Options.Exposure != -6 || c.FalseAlarm != 1e-3 || c.Lamps["status"] != (Spot{1540, 300.5, 12}) {
		t.Fatalf("camera = %+v", c)
	}
	if file, err := c.OpticsFile(); err != nil || file != filepath.Join(b.Dir, "bench.optics") || c.Aligned.Panel != [2]int{320, 240} {
		t.Errorf("aligned = %+v, %v", c.Aligned, err)
	}
}

func TestReadRefuses(t *testing.T) {
	const head = "bench: b\ntarget: t\n"
	tests := []struct{ name, why, in, want string }{
		{"power", "half of a power switch is none", head + "device: {link: twin:, power: {off: x}}\n", "power needs off and on"},
		{"line", "boards have no other line", head + "device: {link: twin:, lines: {reset: cts}}\n", "reset by dtr or rts, not by \"cts\""},
		{"state", "a line is on or off", head + "device: {link: twin:, lines: {open: {dtr: maybe}}}\n", "expected on or off"},
		{"restarts", "a pattern that fits everything says nothing", head + "device: {link: twin:, restarts: [\"*\"]}\n", "needs some text"},
		{"format", "which format is that?", head + "device: {link: twin:}\npanel: {width: 1, height: 1, format: rgb999}\n", "unknown pixel format"},
		{"panel", "a panel has two sides", head + "device: {link: twin:}\npanel: {width: 1, format: rgb565}\n", "needs width, height and format"},
		{"no target", "whose goldens?", "bench: b\ndevice: {link: twin:}\n", "no target"},
		{"camera", "a slip there", head + "device: {link: \"twin:\"}\ncamera: {sorce: 0}\n", "did you mean \"source\"?"},
		{"chance", "a chance of one alarms always", head + "device: {link: \"twin:\"}\ncamera: {false-alarm: 1}\n", "lies between 0 and 1"},
		{"lamp", "where is its edge?", head + "device: {link: \"twin:\"}\ncamera: {lamps: {status: [3, 4]}}\n", "[x, y, radius]"},
		{"optics", "a sidecar elsewhere is another's", head + "device: {link: \"twin:\"}\ncamera: {aligned: {optics: {file: ../x, sha256: a}}}\n", "stands beside bench.yaml"},
		{"aligned", "half an alignment is none", head + "device: {link: \"twin:\"}\ncamera: {aligned: {photo: [640, 480]}}\n", "fascia bench align writes them"},
		{"unknown", "a slip of the pen", head + "devise: {link: twin:}\n", "did you mean \"device\"?"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			file := write(t, t.TempDir(), tt.in)
			_, err := Read(file)
			if err == nil || !strings.Contains(err.Error(), tt.want) || !strings.HasPrefix(err.Error(), file+":") {
				t.Errorf("got %v, want %q with its place: %s", err, tt.want, tt.why)
			}
		})
	}
}

func TestHostBuildIsADevice(t *testing.T) {
	dir := t.TempDir()
	hostDevice(t, dir)
	b, err := Read(write(t, dir, "bench: b\ntarget: t\ndevice: {link: exec:./device}\n"))
	if err != nil {
		t.Fatal(err)
	}
	d, err := b.Open(t.Context(), Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	before, err := d.Look(t.Context(), link.LookOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if err := d.Input(t.Context(), link.Event{Kind: link.Turn, A: 5}); err != nil {
		t.Fatal(err)
	}
	after, err := d.Look(t.Context(), link.LookOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if got := capture.Changed(before.Frame, after.Frame); got.Dx() != 5 {
		t.Errorf("five detents changed %v, want five columns", got)
	}
	h, err := d.Check(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if !h.Still || !h.Repeatable || h.RoundTrip <= 0 || h.PictureBytes == 0 {
		t.Errorf("health of a device at rest on a good line: %+v", h)
	}
}

func TestExpectedBuild(t *testing.T) {
	dir := t.TempDir()
	hostDevice(t, dir)
	open := func(command string) error {
		b, err := Read(write(t, dir, "bench: b\ntarget: t\ndevice:\n  link: exec:./device\n  expect: {build: "+command+"}\n"))
		if err != nil {
			t.Fatal(err)
		}
		d, err := b.Open(t.Context(), Options{})
		if err == nil {
			d.Close()
		}
		return err
	}
	d, err := OnLink("exec:"+filepath.Join(dir, "device")).Open(t.Context(), Options{})
	if err != nil {
		t.Fatal(err)
	}
	build := d.Hello().Build
	d.Close()
	if err := open("echo '" + build + "'"); err != nil {
		t.Errorf("the expected build was refused: %v", err)
	}
	if err := open("echo other"); err == nil || !strings.Contains(err.Error(), `bench.yaml:5:19: the device runs build "`+build+`", and "other" is expected`) {
		t.Errorf("another build: %v", err)
	}
	if err := open("no-such-command"); err == nil || !strings.Contains(err.Error(), "ask which build is expected") {
		t.Errorf("a command that fails: %v", err)
	}
}

func TestBeforeAndCommands(t *testing.T) {
	dir := t.TempDir()
	b, err := Read(write(t, dir, "bench: b\ntarget: t\ndevice: {link: \"twin:\", before: \"echo flashed; echo done > flag\"}\ncommands: {door: \"test -e flag\", broken: \"echo no key >&2; exit 3\"}\n"))
	if err != nil {
		t.Fatal(err)
	}
	if err := b.Call(t.Context(), "door"); err == nil {
		t.Error("the command found a flag that before has not set yet: it runs in another folder")
	}
	out, err := b.Prepare(t.Context())
	if err != nil || string(out) != "flashed\n" {
		t.Errorf("before printed %q, %v", out, err)
	}
	if err := b.Call(t.Context(), "door"); err != nil {
		t.Error(err)
	}
	if err := b.Call(t.Context(), "broken"); err == nil || !strings.Contains(err.Error(), "exit status 3: no key") {
		t.Errorf("a command that fails says %v", err)
	}
	if err := b.Call(t.Context(), "window"); err == nil {
		t.Error("a command that bench.yaml does not name was called")
	}
	b.Before = "echo out of paper; exit 1"
	if _, err := b.Prepare(t.Context()); err == nil || !strings.Contains(err.Error(), "out of paper") {
		t.Errorf("a flash that fails says %v", err)
	}
}

func TestLockIsOfTheDevice(t *testing.T) {
	one, two := OnLink("tcp:127.0.0.1:9?x=1"), OnLink("tcp:127.0.0.1:9")
	release, err := one.Lock(t.Context(), "the first", 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := two.Lock(t.Context(), "the second", 0); !errors.Is(err, ErrTaken) || !strings.Contains(err.Error(), "the first") {
		t.Errorf("got %v, want a refusal that names the first", err)
	}
	time.AfterFunc(200*time.Millisecond, release)
	again, err := two.Lock(t.Context(), "the second", 10*time.Second)
	if err != nil {
		t.Fatalf("it did not wait its turn: %v", err)
	}
	again()
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := one.Lock(ctx, "nobody", time.Hour); !errors.Is(err, context.Canceled) {
		t.Errorf("a lock that was given up says %v", err)
	}
	for range 2 { // every twin is a device of its own
		if _, err := OnLink("twin:").Lock(t.Context(), "a twin", 0); err != nil {
			t.Error(err)
		}
	}
}
