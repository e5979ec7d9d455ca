package twin

import (
	"bytes"
	"context"
	"encoding/binary"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

var odd = map[string][]string{"odd": nil, "hang-at-boot": {"-DHANG_AT_BOOT"}, "trap-at-boot": {"-DTRAP_AT_BOOT"}}

func wasm(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("testdata", name+".wasm"))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// The committed modules are what the compiler makes of the source beside them; only the version
// that built them can promise that.
func TestCommittedModulesAreUpToDate(t *testing.T) {
	version, err := exec.Command("clang", "-dumpversion").Output()
	if err != nil || !bytes.HasPrefix(version, []byte("14.")) {
		t.Skipf("needs clang 14, as packaged by Debian 12; found %q", version)
	}
	for name, flags := range odd {
		out := filepath.Join(t.TempDir(), "out.wasm")
		args := append([]string{"--target=wasm32", "-std=c99", "-O1", "-ffreestanding", "-fno-builtin", "-nostdlib", "-Wall", "-Wextra",
			"-Werror", "-Wno-infinite-recursion"}, flags...)
		args = append(args, "-Wl,--no-entry", "-Wl,--strip-all", "-Wl,-z,stack-size=4096", "-o", out, "testdata/odd.c")
		if msg, err := exec.Command("clang", args...).CombinedOutput(); err != nil {
			t.Fatalf("clang: %v\n%s", err, msg)
		}
		got, err := os.ReadFile(out)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, wasm(t, name)) {
			t.Errorf("%s.wasm is not what clang makes of odd.c", name)
		}
	}
}

func boot(t testing.TB, name string) (*Twin, error) {
	t.Helper()
	p, err := Load(t.Context(), wasm(t, name))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.Close() })
	return p.bootWithin(100 * time.Millisecond)
}

// hear collects what a twin sends in that much virtual time.
func hear(t testing.TB, tw *Twin, d time.Duration) (string, error) {
	t.Helper()
	var all []byte
	buf := make([]byte, 7)
	for until := tw.Now() + d; tw.Now() < until; {
		n, err := tw.Receive(buf, until-tw.Now())
		if err != nil {
			return string(all), err
		}
		all = append(all, buf[:n]...)
	}
	return string(all), nil
}

func TestWhatGoesWrongInATwin(t *testing.T) {
	tests := []struct {
		name, send string
		want       []string
		fails      string
	}{
		{"echo", "echo", []string{"booted 1", "echo"}, ""},
		{"hang", "h", []string{"booted 1", "about to hang", "hung: it did not return within 100ms; restarted", "booted 4"}, ""},
		{"trap", "t", []string{"booted 1", "about to trap", "trapped: wasm error: unreachable; restarted", "booted 5"}, ""},
		{"endless recursion", "s", []string{"booted 1", "restarted", "booted"}, ""},
		{"reset", "r", []string{"booted 1", "bye", "booted 2"}, ""},
		{"more output than allowed", "l", nil, "output buffer is not where it says"},
		{"output past memory", "m", nil, "runs past its memory"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			tw, err := boot(t, "odd")
			if err != nil {
				t.Fatal(err)
			}
			if err := tw.Send([]byte(tt.send)); err != nil {
				t.Fatal(err)
			}
			got, err := hear(t, tw, 50*time.Millisecond)
			if tt.fails != "" {
				if err == nil || !strings.Contains(err.Error(), tt.fails) {
					t.Fatalf("%q, %v; want an error about %q", got, err, tt.fails)
				}
				return
			}
			if err != nil {
				t.Fatalf("%q, %v", got, err)
			}
			rest := got
			for _, w := range tt.want {
				_, after, ok := strings.Cut(rest, w)
				if !ok {
					t.Fatalf("%q lacks %q", got, w)
				}
				rest = after
			}
			if err := tw.Send([]byte("e again")); err != nil {
				t.Fatal(err)
			}
			if got, err := hear(t, tw, 10*time.Millisecond); err != nil || got != "e again" {
				t.Errorf("afterwards it says %q, %v", got, err)
			}
		})
	}
}

func TestAFirmwareThatAlwaysCrashesIsGivenUp(t *testing.T) {
	tw, err := boot(t, "odd")
	if err != nil {
		t.Fatal(err)
	}
	for range 10 {
		tw.Send([]byte("t"))
		if _, err = hear(t, tw, 0); err == nil {
			_, err = tw.Receive(make([]byte, 1000), time.Millisecond)
		}
		if err == nil {
			continue // what it printed before
		}
		if !strings.Contains(err.Error(), "times in a row") {
			t.Errorf("%v", err)
		}
		return
	}
	t.Error("it went on for ever")
}

func TestAStepThatNeverRestsLetsTimePass(t *testing.T) {
	tw, err := boot(t, "odd")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := hear(t, tw, time.Millisecond); err != nil {
		t.Fatal(err)
	}
	tw.Send([]byte("a"))
	if _, err := hear(t, tw, 20*time.Millisecond); err != nil {
		t.Fatal(err)
	}
}

func TestBootThatFails(t *testing.T) {
	for name, want := range map[string]string{"hang-at-boot": "did not return within 100ms", "trap-at-boot": "unreachable"} {
		if _, err := boot(t, name); err == nil || !strings.Contains(err.Error(), "does not get through its boot") || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Two twins of one program share nothing, and each boot has another id.
func TestTwinsShareNothing(t *testing.T) {
	p, err := Load(t.Context(), wasm(t, "odd"))
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	a, err := p.Boot()
	if err != nil {
		t.Fatal(err)
	}
	b, err := p.Boot()
	if err != nil {
		t.Fatal(err)
	}
	hear(t, a, time.Millisecond)
	hear(t, b, time.Millisecond)
	a.Send([]byte("e a"))
	if got, _ := hear(t, b, 5*time.Millisecond); got != "" {
		t.Errorf("what is sent to one comes from the other: %q", got)
	}
	if got, _ := hear(t, a, 5*time.Millisecond); got != "e a" {
		t.Errorf("%q", got)
	}
	seen := map[uint32]bool{}
	for boots := range uint32(1000) {
		seen[bootID(boots+1)] = true
	}
	if len(seen) != 1000 {
		t.Errorf("1000 boots have %d ids", len(seen))
	}
	a.Close()
	if _, err := a.Receive(nil, time.Second); err == nil {
		t.Error("a closed twin answers")
	}
	if err := a.Send(nil); err == nil {
		t.Error("a closed twin takes bytes")
	}
}

// module builds a tiny module by hand: WebAssembly core specification 1.0, chapter 5.
func module(sections ...[]byte) []byte {
	m := []byte("\x00asm\x01\x00\x00\x00")
	for _, s := range sections {
		m = append(m, s[0])
		m = binary.AppendUvarint(m, uint64(len(s)-1))
		m = append(m, s[1:]...)
	}
	return m
}

func export(names ...string) []byte {
	s := []byte{7, byte(len(names))}
	for _, n := range names {
		s = append(s, byte(len(n)))
		s = append(append(s, n...), 0, 0) // function 0
	}
	return s
}

func TestNotATwin(t *testing.T) {
	nop := []byte("\x01\x01\x60\x00\x00")  // one type: () -> ()
	one := []byte("\x03\x01\x00")          // one function of it
	body := []byte("\x0a\x01\x02\x00\x0b") // that does nothing
	tests := []struct {
		name string
		wasm []byte
		want string
	}{
		{"nothing", nil, "compile the twin"},
		{"text", []byte("#!/bin/sh\n"), "compile the twin"},
		{"cut short", wasm(t, "odd")[:300], "compile the twin"},
		{"empty module", module(), "does not export fascia_twin_"},
		{"other exports", module(nop, one, export("main"), body), "does not export fascia_twin_"},
		{"another shape", module(nop, one, export("fascia_twin_in", "fascia_twin_in_size", "fascia_twin_out", "fascia_twin_boot", "fascia_twin_step"), body), "takes 0 values"},
		{"imports", module(nop, []byte("\x02\x01\x03env\x05print\x00\x00")), "imports env.print"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			p, err := Load(context.Background(), tt.wasm)
			if err == nil {
				p.Close()
				t.Fatal("it was taken for a twin")
			}
			if !strings.Contains(err.Error(), tt.want) {
				t.Errorf("%v; want %q in it", err, tt.want)
			}
		})
	}
}
