package link_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/capturetest"
	"github.com/fascia-bench/fascia/capture/link"
)

// buildDir keeps the fake device, built once.
var buildDir, program, denseProgram, stripProgram string

func TestMain(m *testing.M) {
	dir, err := os.MkdirTemp("", "fascia-link")
	if err != nil {
		panic(err)
	}
	buildDir = dir
	code := m.Run()
	os.RemoveAll(dir)
	os.Exit(code)
}

func device(t testing.TB, p capturetest.Panel) *capturetest.Device {
	t.Helper()
	if program == "" {
		program = capturetest.Compile(t, buildDir, nil, "pipe_device.c")
	}
	return capturetest.Start(t, program, p)
}

// denseDevice has the dense codec too.
func denseDevice(t testing.TB, p capturetest.Panel) *capturetest.Device {
	t.Helper()
	if denseProgram == "" {
		dir := filepath.Join(buildDir, "dense")
		if err := os.Mkdir(dir, 0o777); err != nil {
			t.Fatal(err)
		}
		denseProgram = capturetest.Compile(t, dir, []string{"-DFASCIA_DENSE=1"}, "pipe_device.c")
	}
	return capturetest.Start(t, denseProgram, p)
}

// stripDevice has no framebuffer: what it draws passes in strips of one to seven rows.
func stripDevice(t testing.TB, p capturetest.Panel) *capturetest.Device {
	t.Helper()
	if stripProgram == "" {
		dir := filepath.Join(buildDir, "strip")
		if err := os.Mkdir(dir, 0o777); err != nil {
			t.Fatal(err)
		}
		stripProgram = capturetest.Compile(t, dir, []string{"-DFASCIA_STRIP=1"}, "pipe_device.c")
	}
	return capturetest.Start(t, stripProgram, p)
}

// ends are the builds of the device end.
var ends = map[string]func(testing.TB, capturetest.Panel) *capturetest.Device{"light": device, "dense": denseDevice, "strip": stripDevice}

func dial(t testing.TB, s link.Stream, opt link.Options) *link.Conn {
	t.Helper()
	c, err := link.Dial(t.Context(), s, opt)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func feed(t testing.TB, c *link.Conn, name, value string) {
	t.Helper()
	if err := c.Feed(t.Context(), name, value); err != nil {
		t.Fatalf("feed %s=%s: %v", name, value, err)
	}
}

var soon = link.LookOptions{Still: 10 * time.Millisecond, Latest: 500 * time.Millisecond}

func look(t testing.TB, c *link.Conn, opt link.LookOptions) link.Look {
	t.Helper()
	l, err := c.Look(t.Context(), opt)
	if err != nil {
		t.Fatalf("look: %v", err)
	}
	return l
}

// same fails with the first byte that differs.
func same(t testing.TB, what string, got, want *capture.Frame) {
	t.Helper()
	if !got.SameShape(want) {
		t.Fatalf("%s: %v, want %v", what, got, want)
	}
	if !bytes.Equal(got.Pix, want.Pix) {
		g := want.Format.Grid(want.Width, want.Height)
		for i := range want.Pix {
			if got.Pix[i] != want.Pix[i] {
				t.Fatalf("%s: byte %d of row %d is %#02x, want %#02x", what, i%(g.Cells*g.CellBytes), i/(g.Cells*g.CellBytes), got.Pix[i], want.Pix[i])
			}
		}
	}
	if !slices.Equal(got.Palette, want.Palette) {
		t.Fatalf("%s: palette of %d colours is another than that of %d", what, len(got.Palette), len(want.Palette))
	}
}

// The sizes are whole tiles, less than a tile, a cell more or less than a tile, and what the
// packing of bits makes odd.
var sizes = [][2]int{{1, 1}, {7, 3}, {32, 16}, {33, 17}, {31, 15}, {40, 18}, {255, 40}, {256, 9}, {3, 260}, {320, 240}}

func TestEveryFormatAndSize(t *testing.T) {
	for f := capture.MonoRows; f.Valid(); f++ {
		for _, size := range sizes {
			p := capturetest.Panel{Width: size[0], Height: size[1], Format: f}
			if f == capture.Palette8 {
				p.Colours = 1 + size[0]%256
			}
			for name, start := range ends {
				t.Run(fmt.Sprintf("%v-%dx%d-%s", f, size[0], size[1], name), func(t *testing.T) {
					c := dial(t, start(t, p), link.Options{})
					if c.Hello().Has(link.CanKeyed) != (name == "dense") {
						t.Fatalf("capabilities %#x", uint32(c.Hello().Can))
					}
					want := p.NewFrame()
					same(t, "after boot", look(t, c, soon).Frame, want)
					for seed := uint32(1); seed <= 3; seed++ {
						feed(t, c, "paint", fmt.Sprint(seed))
						capturetest.Paint(want, seed)
						same(t, fmt.Sprintf("painted %d", seed), look(t, c, soon).Frame, want)
						g := f.Grid(p.Width, p.Height)
						x, y, w, h := g.Cells/2, g.Rows/3, 1+g.Cells/9, 1+g.Rows/7
						feed(t, c, "area", fmt.Sprintf("%d,%d,%d,%d,%d", seed, x, y, w, h))
						capturetest.PaintArea(want, seed, x, y, w, h)
						same(t, fmt.Sprintf("area %d", seed), look(t, c, soon).Frame, want)
					}
				})
			}
		}
	}
}

var small = capturetest.Panel{Width: 96, Height: 64, Format: capture.RGB565LE}

func TestAKnownGoldenIsNotSent(t *testing.T) {
	p := capturetest.Panel{Width: 320, Height: 240, Format: capture.RGB565LE}
	c := dial(t, device(t, p), link.Options{})
	golden := p.NewFrame()
	capturetest.Paint(golden, 5)
	feed(t, c, "paint", "5")
	if l := look(t, c, link.LookOptions{Still: time.Millisecond, Latest: time.Second, Known: []*capture.Frame{small.NewFrame(), golden}}); l.Bytes > 40 {
		t.Errorf("a look that shows its golden moved %d bytes, more than 40", l.Bytes)
	} else {
		same(t, "golden", l.Frame, golden)
		l.Frame.Pix[0] ^= 1 // what is handed on is the caller's
	}
	want := golden.Clone()
	capturetest.PaintArea(want, 9, 100, 100, 20, 10)
	feed(t, c, "area", "9,100,100,20,10")
	l := look(t, c, link.LookOptions{Still: time.Millisecond, Latest: time.Second, Known: []*capture.Frame{golden}})
	same(t, "small change", l.Frame, want)
	if l.Bytes > 1500 {
		t.Errorf("a change of 200 noisy pixels moved %d bytes", l.Bytes)
	}
}

func TestAFrameDrawnWhileItIsRead(t *testing.T) {
	for rows := range 400 {
		if rows > 20 && rows%7 != 0 {
			continue
		}
		c := dial(t, device(t, small), link.Options{})
		old := small.NewFrame()
		capturetest.Paint(old, 1)
		feed(t, c, "paint", "1")
		feed(t, c, "poke", fmt.Sprint(rows))
		got := look(t, c, soon).Frame
		changed := 0
		for i := range old.Pix {
			if got.Pix[i] != old.Pix[i] {
				changed++
			}
		}
		if changed > 2 {
			t.Fatalf("poked after %d rows: %d bytes of the picture are of neither moment", rows, changed)
		}
		// What was handed on is what the panel shows, or showed before the change.
		again := look(t, c, soon)
		if changed == 2 && !bytes.Equal(again.Frame.Pix, got.Pix) {
			t.Fatalf("poked after %d rows: the picture is of no moment", rows)
		}
	}
}

func TestAScreenThatNeverStandsStill(t *testing.T) {
	c := dial(t, device(t, small), link.Options{})
	feed(t, c, "poke-again", "100000")
	feed(t, c, "poke", "1")
	_, err := c.Look(t.Context(), soon)
	if !errors.Is(err, link.ErrMoving) {
		t.Errorf("a panel that is drawn on at every read gives %v, want ErrMoving", err)
	}
}

func TestAHeldScreenStandsStill(t *testing.T) {
	for _, slow := range []string{"65536", "4"} { // a line so slow that the picture takes seconds
		p := capturetest.Panel{Width: 320, Height: 240, Format: capture.RGB565LE}
		c := dial(t, device(t, p), link.Options{Patience: time.Second})
		want := p.NewFrame()
		feed(t, c, "paint", "3")
		capturetest.Paint(want, 3)
		feed(t, c, "blink", "30")
		feed(t, c, "slow", slow)
		start := c.Now()
		l := look(t, c, link.LookOptions{Still: 100 * time.Millisecond, Latest: 300 * time.Millisecond})
		if !l.Moving {
			t.Error("a screen that blinks every 30 ms was still for 100 ms")
		}
		if slow == "4" && c.Now()-start < 3*time.Second {
			t.Errorf("the slow line took %v only: a hold was not put to the test", c.Now()-start)
		}
		l.Frame.Pix[0], l.Frame.Pix[1] = want.Pix[0], want.Pix[1] // the cell that blinks
		same(t, "held", l.Frame, want)
		// A hold must not outlive the host.
		before := look(t, c, link.LookOptions{Still: 0, Latest: 0}).Frame
		if err := c.Wait(t.Context(), 0); err != nil {
			t.Fatal(err)
		}
		if err := c.Wait(t.Context(), 50*time.Millisecond); err != nil {
			t.Fatal(err)
		}
		after := look(t, c, link.LookOptions{Still: 0, Latest: 0}).Frame
		if bytes.Equal(before.Pix, after.Pix) {
			t.Error("an action did not end the hold: nothing blinks")
		}
	}
}

func TestAHoldEndsByItself(t *testing.T) {
	c := dial(t, device(t, small), link.Options{})
	feed(t, c, "blink", "30")
	before := look(t, c, link.LookOptions{}).Frame
	pause(t, c, 2500*time.Millisecond)
	if after := look(t, c, link.LookOptions{}).Frame; bytes.Equal(before.Pix, after.Pix) {
		t.Error("2.5 s after the host fell silent the screen is still held")
	}
}

// pause lets time pass on the line without a word to the device.
func pause(t *testing.T, c *link.Conn, d time.Duration) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	if err := c.Listen(ctx, d); err != nil {
		t.Fatal(err)
	}
}

func TestStillAndLatest(t *testing.T) {
	c := dial(t, device(t, small), link.Options{})
	feed(t, c, "busy", "300")
	l := look(t, c, link.LookOptions{Still: 100 * time.Millisecond, Latest: 2 * time.Second})
	if l.Moving || l.Took < 390*time.Millisecond || l.Took > 450*time.Millisecond {
		t.Errorf("busy for 300 ms and still for 100 ms: took %v, moving %v", l.Took, l.Moving)
	}
	feed(t, c, "busy", "5000")
	l = look(t, c, link.LookOptions{Still: 100 * time.Millisecond, Latest: 700 * time.Millisecond})
	if !l.Moving || l.Took < 690*time.Millisecond || l.Took > 750*time.Millisecond {
		t.Errorf("busy for 5 s, at the latest after 700 ms: took %v, moving %v", l.Took, l.Moving)
	}
}

func TestAPanelThatTurns(t *testing.T) {
	c := dial(t, device(t, small), link.Options{})
	look(t, c, soon)
	feed(t, c, "turn", "4")
	turned := capturetest.Panel{Width: small.Height, Height: small.Width, Format: small.Format}
	want := turned.NewFrame()
	capturetest.Paint(want, 4)
	same(t, "turned", look(t, c, soon).Frame, want)
	if h := c.Hello(); h.Width != small.Height || h.Height != small.Width {
		t.Errorf("after the turn hello says %dx%d", h.Width, h.Height)
	}
}

func TestARestartWhileAPictureIsSent(t *testing.T) {
	restarts := 0
	for at := 21; ; at += 41 { // the answer to the feed itself is whole
		c := dial(t, device(t, small), link.Options{})
		feed(t, c, "paint", "1")
		feed(t, c, "crash", fmt.Sprint(at))
		l, err := c.Look(t.Context(), soon)
		if err == nil { // the whole picture was sent before
			want := small.NewFrame()
			capturetest.Paint(want, 1)
			same(t, "no crash", l.Frame, want)
			break
		}
		var restarted *link.RestartError
		if !errors.As(err, &restarted) {
			t.Fatalf("crash after %d bytes: %v, want a RestartError", at, err)
		}
		restarts++
		if restarted.Before == restarted.After {
			t.Errorf("boot ids %d and %d", restarted.Before, restarted.After)
		}
		if err := c.Greet(t.Context()); err != nil {
			t.Fatal(err)
		}
		if h := c.Hello(); h.Reset.String() != "watchdog" {
			t.Errorf("after the crash hello gives the reason %v", h.Reset)
		}
		same(t, "after the restart", look(t, c, soon).Frame, small.NewFrame())
	}
	if restarts < 20 {
		t.Errorf("%d restarts only", restarts)
	}
}

func TestReset(t *testing.T) {
	c := dial(t, device(t, small), link.Options{})
	before := c.Hello().Boot
	if err := c.Reset(t.Context(), 3*time.Second); err != nil {
		t.Fatal(err)
	}
	if h := c.Hello(); h.Boot == before || h.Reset.String() != "asked" {
		t.Errorf("boot %d after %d, reason %v", h.Boot, before, h.Reset)
	}
}

func TestInputClockPatternAndLists(t *testing.T) {
	ctx := t.Context()
	c := dial(t, device(t, small), link.Options{Chunk: 50})
	lamp := func(i int) string {
		t.Helper()
		items, err := c.List(ctx, link.Lamps)
		if err != nil || len(items) != 3 {
			t.Fatalf("lamps %v, %v", items, err)
		}
		return items[i].Value
	}
	if err := c.Input(ctx, link.Event{Kind: link.TouchMove, A: -3, B: 32767, C: 2}); err != nil {
		t.Fatal(err)
	}
	if got := lamp(0); got != "2 -3 32767 2 " {
		t.Errorf("the device was given %q", got)
	}
	if err := c.Input(ctx, link.Event{Kind: link.Text, Text: "Grün, 21 °C"}); err != nil {
		t.Fatal(err)
	}
	if got := lamp(0); got != "6 0 0 0 Grün, 21 °C" {
		t.Errorf("the device was given %q", got)
	}
	start := c.Now()
	if err := c.Input(ctx, link.Event{Kind: link.Turn, A: 1, After: 250 * time.Millisecond}); err != nil {
		t.Fatal(err)
	}
	if took := c.Now() - start; took > 260*time.Millisecond || took < 200*time.Millisecond {
		t.Errorf("an event 250 ms after the last took %v", took)
	}
	face := time.Date(2031, 5, 4, 9, 30, 0, 0, time.FixedZone("", 7200))
	if err := c.SetClock(ctx, face, true); err != nil {
		t.Fatal(err)
	}
	if got, want := lamp(1), fmt.Sprint("1 ", face.Add(2*time.Hour).UnixMilli()); got != want {
		t.Errorf("clock %q, want %q", got, want)
	}
	if err := c.StepClock(ctx, -time.Second); err != nil {
		t.Fatal(err)
	}
	if got := lamp(1); got != "5 -1000" {
		t.Errorf("clock %q", got)
	}
	if err := c.Pattern(ctx, 1, 2, 3, 4); err != nil {
		t.Fatal(err)
	}
	if px := look(t, c, soon).Frame.Pix; px[0] != 4 || px[len(px)-1] != 4 {
		t.Error("the pattern is not shown")
	}
	if err := c.Pattern(ctx, 99); !errors.Is(err, link.ErrBadValue) {
		t.Errorf("pattern 99: %v", err)
	}
	gauges, err := c.List(ctx, link.Gauges)
	if err != nil || len(gauges) != 40 || gauges[39] != (link.Item{Name: "gauge-39", Value: "1521"}) {
		t.Errorf("gauges %v, %v", gauges, err)
	}
	if gauges[0].Value != "3" {
		t.Errorf("the device got %s inputs, not 3", gauges[0].Value)
	}
	for name, want := range map[string]error{"nonsense": link.ErrUnknownName, "area": link.ErrBadValue} {
		if err := c.Feed(ctx, name, "x"); !errors.Is(err, want) {
			t.Errorf("feed %s: %v, want %v", name, err, want)
		}
	}
}

func TestRequestsTooLong(t *testing.T) {
	ctx := t.Context()
	c := dial(t, device(t, small), link.Options{})
	long := string(bytes.Repeat([]byte("x"), 126))
	if err := c.Input(ctx, link.Event{Kind: link.Text, Text: long[:123]}); err != nil {
		t.Errorf("the longest text: %v", err)
	}
	if err := c.Input(ctx, link.Event{Kind: link.Text, Text: long[:124]}); err == nil {
		t.Error("a text of a byte too many was sent")
	}
	if err := c.Feed(ctx, "paint", long[:121]); err == nil {
		t.Error("a value of a byte too many was sent")
	}
	if err := c.Feed(ctx, "nonsense", long[:117]); !errors.Is(err, link.ErrUnknownName) {
		t.Errorf("the longest feed: %v", err)
	}
}

func TestObservedKeepsTheLast(t *testing.T) {
	ctx := t.Context()
	c := dial(t, device(t, small), link.Options{})
	feed(t, c, "observe", "3")
	if seen, err := c.Observed(ctx, 0); err != nil || len(seen) != 0 {
		t.Errorf("unasked, the device reports %v, %v", seen, err)
	}
	if err := c.Observe(ctx, true); err != nil {
		t.Fatal(err)
	}
	feed(t, c, "observe", "3")
	seen, err := c.Observed(ctx, 0)
	if err != nil || len(seen) != 3 || seen[0].Number != 1 || seen[2].Event != (link.Event{Kind: link.TouchDown, A: 2, B: -2, C: 1}) {
		t.Fatalf("observed %+v, %v", seen, err)
	}
	if seen, err = c.Observed(ctx, 2); err != nil || len(seen) != 1 || seen[0].Number != 3 {
		t.Errorf("after 2: %+v, %v", seen, err)
	}
	feed(t, c, "observe", "20") // more than the ring holds
	if seen, err = c.Observed(ctx, 3); err != nil || len(seen) != 8 || seen[0].Number != 16 || seen[7].Number != 23 {
		t.Errorf("after an overflow: %+v, %v", seen, err)
	}
	if seen, err = c.Observed(ctx, 23); err != nil || len(seen) != 0 {
		t.Errorf("nothing new: %+v, %v", seen, err)
	}
}

// A palette travels when something was drawn since it did last, and then only: an unchanged look costs what it does without one.
func TestAPaletteTravelsOnce(t *testing.T) {
	p := capturetest.Panel{Width: 70, Height: 45, Format: capture.Palette8, Colours: 200}
	for name, start := range ends {
		c := dial(t, start(t, p), link.Options{})
		feed(t, c, "paint", "3")
		first := look(t, c, soon)
		again := look(t, c, soon)
		if first.Bytes < 600 || again.Bytes > 40 {
			t.Errorf("%s: a look costs %d bytes, the same again %d", name, first.Bytes, again.Bytes)
		}
		same(t, name, again.Frame, first.Frame)
		feed(t, c, "paint", "4")
		if l := look(t, c, soon); l.Bytes < 600 {
			t.Errorf("%s: after it was drawn on a look costs %d bytes: the palette may be another", name, l.Bytes)
		}
	}
}
