package line_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/capturetest"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/link/line"
)

var dir, program string

func TestMain(m *testing.M) {
	var err error
	if dir, err = os.MkdirTemp("", "fascia-line"); err != nil {
		panic(err)
	}
	code := m.Run()
	os.RemoveAll(dir)
	if err := goleak.Find(); code == 0 && err != nil {
		fmt.Fprintln(os.Stderr, err)
		code = 1
	}
	os.Exit(code)
}

// hostBuild compiles the example that adopters start from, strictly and with the sanitizers.
func hostBuild(t testing.TB) string {
	t.Helper()
	if program != "" {
		return program
	}
	p := filepath.Join(dir, "device")
	args := append(slices.Clone(capturetest.Strict), "-o", p,
		filepath.Join(capturetest.AgentDir(), "fascia_agent.c"), filepath.Join(capturetest.AgentDir(), "examples", "host_main.c"))
	if out, err := exec.Command("gcc", args...).CombinedOutput(); err != nil {
		t.Fatalf("gcc: %v\n%s(on Debian: apt install gcc libc6-dev)", err, out)
	}
	program = p
	return p
}

// notices collects what a line says of itself.
type notices struct {
	mu   sync.Mutex
	said []string
}

func (n *notices) add(s string) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.said = append(n.said, s)
}

func (n *notices) has(part string) bool {
	n.mu.Lock()
	defer n.mu.Unlock()
	return slices.ContainsFunc(n.said, func(s string) bool { return strings.Contains(s, part) })
}

// patient are the options for a device that shares its cores with a whole test run, and may be slow to start and to answer.
var patient = link.Options{Patience: 5 * time.Second, Tries: 12}

var still = link.LookOptions{Still: 20 * time.Millisecond, Latest: 200 * time.Millisecond}

// bar counts the green pixels of the example's row 20.
func bar(t testing.TB, c *link.Conn) int {
	t.Helper()
	l, err := c.Look(t.Context(), still)
	for try := 0; errors.Is(err, link.ErrSilent) && try < 20; try++ { // the machine is busy with other tests
		l, err = c.Look(t.Context(), still)
	}
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for x := range l.Frame.Width {
		if c := l.Frame.RGBAAt(x, 20); c.G == 255 {
			n++
		}
	}
	return n
}

func TestParse(t *testing.T) {
	for text, want := range map[string]string{
		"serial:/dev/ttyUSB0":                 "/dev/ttyUSB0 at 115200 baud",
		"serial:/dev/ttyUSB0?baud=921600":     "/dev/ttyUSB0 at 921600 baud",
		"serial:COM7?baud=2000000":            "COM7 at 2000000 baud",
		"serial:usb=0403:6001":                "the port of USB device 0403:6001 at 115200 baud",
		"serial:usb=0403:60AB:AB01?baud=9600": "the port of USB device 0403:60ab:AB01 at 9600 baud",
		"tcp:localhost:4444":                  "localhost:4444",
		"tcp:[::1]:4444":                      "[::1]:4444",
		"exec:./device --fast":                "./device --fast",
	} {
		if s, err := line.Parse(text); err != nil || s.Name != want {
			t.Errorf("%s: %q, %v; want %q", text, s.Name, err, want)
		}
	}
	for text, want := range map[string]string{
		"":                              "write serial:",
		"serial:":                       "write serial:",
		"serial:?baud=9600":             "names no port",
		"serial:/dev/tty?baud=fast":     "no speed",
		"serial:/dev/tty?baud=3":        "no speed",
		"serial:/dev/tty?bard=9600":     `unknown setting "bard"`,
		"serial:/dev/tty?baud=1&baud=2": "stands 2 times",
		"serial:/dev/tty?baud=%zz":      "question mark",
		"serial:usb=403:6001":           "four hexadecimal digits",
		"serial:usb=0403":               "four hexadecimal digits",
		"tcp:localhost":                 "tcp:HOST:PORT",
		"tcp:localhost:http":            "tcp:HOST:PORT",
		"tcp:localhost:99999":           "tcp:HOST:PORT",
		"bluetooth:x":                   "unknown kind",
	} {
		if _, err := line.Parse(text); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v; want %q in it", text, err, want)
		}
	}
}

func TestExecIsADevice(t *testing.T) {
	s, err := line.Open(t.Context(), "exec:"+hostBuild(t), line.Options{})
	if err != nil {
		t.Fatal(err)
	}
	c, err := link.Dial(t.Context(), s, patient)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if h := c.Hello(); h.Device != "host build" || h.Width != 64 {
		t.Errorf("%+v", h)
	}
	if n := bar(t, c); n != 8 {
		t.Errorf("the bar is %d pixels long, not 8", n)
	}
	if err := c.Input(t.Context(), link.Event{Kind: link.Turn, A: 13}); err != nil {
		t.Fatal(err)
	}
	if n := bar(t, c); n != 21 {
		t.Errorf("after 13 detents the bar is %d pixels long, not 21", n)
	}
	if s.Reset() == nil {
		t.Error("a program has no reset line")
	}
}

func TestExecThatEnds(t *testing.T) {
	var n notices
	s, err := line.Open(t.Context(), "exec:echo it breaks >&2; exit 3", line.Options{Patience: 500 * time.Millisecond, Notice: n.add})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for try := 0; try < 40 && !(n.has("exit status 3") && n.has("it breaks")); try++ { // the shell may be slow to start
		if _, err := link.Dial(t.Context(), s, link.Options{Tries: 2}); !errors.Is(err, link.ErrSilent) && !errors.Is(err, line.ErrGone) {
			t.Errorf("%v, want ErrSilent", err)
		}
	}
	if !n.has("exit status 3") || !n.has("it breaks") {
		t.Errorf("notices: %q", n.said)
	}
	if _, err := line.Open(t.Context(), "exec:true", line.Options{Dir: "/no/such/folder"}); err == nil {
		t.Error("a command ran in a folder that is not there")
	}
}

// serve lends one host build to whoever connects, a new one each time.
func serve(t *testing.T, l net.Listener, accepted func(net.Conn)) {
	for {
		conn, err := l.Accept()
		if err != nil {
			return
		}
		accepted(conn)
		cmd := exec.Command(program)
		cmd.Stdin, cmd.Stdout = conn, conn
		go func() {
			cmd.Run()
			conn.Close()
		}()
	}
}

func TestTCPThatIsCutAndReturns(t *testing.T) {
	hostBuild(t)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	var mu sync.Mutex
	var conns []net.Conn
	accepted := func(c net.Conn) { mu.Lock(); conns = append(conns, c); mu.Unlock() }
	go serve(t, l, accepted)
	address := l.Addr().String()
	var n notices
	s, err := line.Open(t.Context(), "tcp:"+address, line.Options{Patience: 5 * time.Second, Notice: n.add})
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
	mu.Lock()
	conns[0].Close()
	mu.Unlock()
	_, err = c.Look(t.Context(), still)
	var restarted *link.RestartError
	if !errors.As(err, &restarted) {
		t.Errorf("the device behind the socket is another: %v, want a RestartError", err)
	}
	if !n.has("is lost") || !n.has("is back") {
		t.Errorf("notices: %q", n.said)
	}
	if err := c.Greet(t.Context()); err != nil {
		t.Fatal(err)
	}
	if got := bar(t, c); got != 8 {
		t.Errorf("bar %d", got)
	}
	// Gone for good.
	l.Close()
	mu.Lock()
	for _, c := range conns {
		c.Close()
	}
	mu.Unlock()
	for {
		if _, err = c.Look(t.Context(), still); !errors.Is(err, link.ErrSilent) {
			break
		}
	}
	if !errors.Is(err, line.ErrGone) {
		t.Errorf("%v, want ErrGone", err)
	}
}

func TestNobodyThere(t *testing.T) {
	for text, want := range map[string]string{
		"tcp:127.0.0.1:1":            "refused",
		"serial:/dev/ttyFASCIA9":     "there is no port /dev/ttyFASCIA9",
		"serial:usb=dead:beef":       "no such USB device",
		"serial:/dev/null?baud=9600": "/dev/null is no serial port",
	} {
		if s, err := line.Open(t.Context(), text, line.Options{}); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v; want %q in it", text, err, want)
			if err == nil {
				s.Close()
			}
		}
	}
}

// A device that knows nothing of the link: it prints, and at a command sends its framebuffer.
func TestDump(t *testing.T) {
	want := capture.NewFrame(20, 10, capture.RGB565LE)
	for i := range want.Pix {
		want.Pix[i] = byte(i * 7)
	}
	file := filepath.Join(dir, "pixels")
	if err := os.WriteFile(file, want.Pix, 0o666); err != nil {
		t.Fatal(err)
	}
	script := filepath.Join(dir, "dumb.sh")
	if err := os.WriteFile(script, []byte(`echo boot
while read -r word; do
case $word in
shot) cat `+file+`;;
say) printf 'here it is:\n'; cat `+file+`;;
short) head -c 399 `+file+`;;
long) cat `+file+`; printf x;;
esac
done
`), 0o666); err != nil {
		t.Fatal(err)
	}
	grab := func(patience time.Duration, settings string) (*capture.Frame, error) {
		d, err := line.OpenDump(t.Context(), "exec:sh "+script+"?"+settings, line.Options{})
		if err != nil {
			return nil, err
		}
		defer d.Close()
		ctx, cancel := context.WithTimeout(t.Context(), patience)
		defer cancel()
		return d.Grab(ctx)
	}
	for _, settings := range []string{`send=shot\n&format=rgb565&size=20x10`, `send=say\n&after=it+is:\n&format=rgb565&size=20x10`} {
		got, err := grab(time.Minute, settings)
		if err != nil {
			t.Errorf("%s: %v", settings, err)
		} else if !got.SameShape(want) || !bytes.Equal(got.Pix, want.Pix) {
			t.Errorf("%s: another picture", settings)
		}
	}
	for settings, want := range map[string]string{
		`send=short\n&format=rgb565&size=20x10`: "399 of 400 bytes came",
		`send=long\n&format=rgb565&size=20x10`:  "sent 401 bytes",
		`send=say\n&format=rgb565&size=20x10`:   "say after=TEXT",
		`send=shot\n&size=20x10`:                "unknown pixel format",
		`send=shot\n&format=rgb565&size=20`:     "WIDTHxHEIGHT",
		`send=\q&format=rgb565&size=20x10`:      "send is not text",
		`sent=x&format=rgb565&size=20x10`:       `unknown setting "sent"`,
	} {
		if _, err := grab(4*time.Second, settings); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v; want %q in it", settings, err, want)
		}
	}
	if _, err := grab(time.Second, `send=short\n&format=rgb565&size=20x10`); !errors.Is(err, line.ErrNoFrame) {
		t.Errorf("%v, want ErrNoFrame", err)
	}
}
