package twin_test

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/twin"
)

// counter boots the example that is built with a C library; it appends what is printed to log.
func counter(t *testing.T, log *[]string) *link.Conn {
	t.Helper()
	b, err := os.ReadFile("example/counter.wasm")
	if err != nil {
		t.Fatal(err)
	}
	p, err := twin.Load(t.Context(), b)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.Close() })
	tw, err := p.Boot()
	if err != nil {
		t.Fatal(err)
	}
	c, err := link.Dial(t.Context(), tw, link.Options{Log: func(l link.LogLine) { *log = append(*log, l.Text) }})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// segments returns which of the seven segments of a place of the counter are lit, top first.
func segments(pix []byte, place int) (lit string) {
	for _, at := range [][2]int{{5, 0}, {10, 5}, {10, 15}, {5, 20}, {0, 15}, {0, 5}, {5, 10}} {
		lit += string("01"[pix[(4+at[1])*96+8+16*place+at[0]]/255])
	}
	return lit
}

// malloc, snprintf, strtol, printf and assert are the C library's; what they need of WASI the twin offers.
func TestATwinWithACLibrary(t *testing.T) {
	var log []string
	c := counter(t, &log)
	look := func() []byte {
		t.Helper()
		l, err := c.Look(t.Context(), settled)
		if err != nil {
			t.Fatal(err)
		}
		return l.Frame.Pix
	}
	shows := func(pix []byte, want string) {
		t.Helper()
		// Segments of a figure as every seven-segment display has them; common practice, no source.
		glyph := map[byte]string{' ': "0000000", '-': "0000001", '0': "1111110", '2': "1101101", '4': "0110011", '9': "1111011"}
		for i := range want {
			if got := segments(pix, i); got != glyph[want[i]] {
				t.Errorf("place %d shows %s, want %q", i, got, want[i])
			}
		}
	}
	shows(look(), "    0")
	if err := c.Feed(t.Context(), "count", "-409"); err != nil {
		t.Fatal(err)
	}
	shows(look(), " -409")
	if err := c.Feed(t.Context(), "count", "4x"); !errors.Is(err, link.ErrBadValue) {
		t.Errorf("%v", err)
	}
	if err := c.Input(t.Context(), link.Event{Kind: link.Turn, A: 429}); err != nil {
		t.Fatal(err)
	}
	shows(look(), "   20")
	if want := []string{"counter is up", "count 20"}; !slices.Equal(log, want) {
		t.Errorf("the log is %q, want %q", log, want)
	}
	var again []string
	if second := counter(t, &again); second.Hello() != c.Hello() {
		t.Errorf("another start says %+v, the first said %+v", second.Hello(), c.Hello())
	}
}

// An assert that fails ends in its own words, and the host sees another start.
func TestAnAssertInATwinIsTold(t *testing.T) {
	var log []string
	c := counter(t, &log)
	before := c.Hello().Boot
	// The request is sent again after each restart, and is the end of that start, too.
	if err := c.Feed(t.Context(), "count", "12345678"); !errors.Is(err, link.ErrSilent) {
		t.Fatalf("an assert that failed gives %v, want silence", err)
	}
	if err := c.Greet(t.Context()); err != nil {
		t.Fatal(err)
	}
	if h := c.Hello(); h.Reset.String() != "panic" || h.Boot == before {
		t.Errorf("the reason is %v, the boot id %x after %x", h.Reset, h.Boot, before)
	}
	if err := c.Listen(t.Context(), 10*time.Millisecond); err != nil {
		t.Fatal(err)
	}
	all := strings.Join(log, "\n")
	for _, want := range []string{"Assertion failed: n < (int)sizeof text (counter.c: ui_draw:", "twin: the firmware trapped", "counter is up"} {
		_, after, ok := strings.Cut(all, want)
		if !ok {
			t.Errorf("the log lacks %q after what came before: %q", want, log)
		}
		all = after
	}
}

// Only the compiler and library that built it can promise that it is what they make of the source.
func TestTheExampleIsUpToDate(t *testing.T) {
	version, err := exec.Command("clang", "-dumpversion").Output()
	_, noLibrary := os.Stat("/usr/lib/wasm32-wasi/libc.a")
	if err != nil || !bytes.HasPrefix(version, []byte("14.")) || noLibrary != nil {
		t.Skipf("needs clang 14, wasi-libc and libclang-rt-14-dev-wasm32, as packaged by Debian 12; found clang %q, %v", version, noLibrary)
	}
	out := filepath.Join(t.TempDir(), "counter.wasm")
	cmd := exec.Command("sh", "build.sh", out)
	cmd.Dir = "example"
	if msg, err := cmd.CombinedOutput(); err != nil {
		t.Fatal(fmt.Errorf("build.sh: %w\n%s", err, msg))
	}
	got, err := os.ReadFile(out)
	if err != nil {
		t.Fatal(err)
	}
	want, err := os.ReadFile("example/counter.wasm")
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Error("counter.wasm is not what clang makes of counter.c and the agent: run build.sh in capture/twin/example")
	}
}
