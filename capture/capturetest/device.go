// Package capturetest holds what tests of the link need: a fake device, built from the agent's
// own C source, and a channel that damages what passes.
//
// The fake device lives on virtual time and paints itself from a seed by rules that Paint has
// too, so that a test works out by itself what a look must show.
package capturetest

import (
	"encoding/binary"
	"fmt"
	"io"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture"
)

// Strict are the compiler flags under which the device end must build and run clean.
var Strict = []string{"-std=c99", "-Wall", "-Wextra", "-Wconversion", "-pedantic", "-Werror", "-g", "-O1",
	"-fsanitize=address,undefined", "-fno-sanitize-recover=all"}

// AgentDir is the folder of the agent's source.
func AgentDir() string {
	_, here, _, _ := runtime.Caller(0)
	return filepath.Join(filepath.Dir(here), "..", "link", "agent")
}

// Compile builds the agent with C files of agent/test, under the sanitizers, and returns the
// program's path. No compiler is a failure: the device end is half of the link.
func Compile(t testing.TB, dir string, flags []string, files ...string) string {
	t.Helper()
	program := filepath.Join(dir, strings.TrimSuffix(files[len(files)-1], ".c"))
	args := append(append(append([]string{}, Strict...), flags...), "-o", program, filepath.Join(AgentDir(), "fascia_agent.c"))
	for _, f := range files {
		args = append(args, filepath.Join(AgentDir(), "test", f))
	}
	if out, err := exec.Command("gcc", args...).CombinedOutput(); err != nil {
		t.Fatalf("gcc %s: %v\n%s(the device end is C99 and is tested as such; on Debian: apt install gcc libc6-dev)",
			strings.Join(args, " "), err, out)
	}
	return program
}

// Panel says what a fake device's panel is like.
type Panel struct {
	Width, Height int
	Format        capture.Format
	Colours       int
}

// A Device is a fake device: a child process with the agent in it, on virtual time. It is a
// link.Stream.
type Device struct {
	Panel
	cmd   *exec.Cmd
	to    io.WriteCloser
	from  io.Reader
	errs  strings.Builder
	now   time.Duration
	input []byte
	have  []byte
	once  sync.Once
}

// Start runs a program that Compile has made of pipe_device.c.
func Start(t testing.TB, program string, p Panel) *Device {
	t.Helper()
	d := &Device{Panel: p}
	d.cmd = exec.Command(program, fmt.Sprint(p.Width), fmt.Sprint(p.Height), fmt.Sprint(uint8(p.Format)), fmt.Sprint(p.Colours))
	d.cmd.Stderr = &d.errs
	var err error
	if d.to, err = d.cmd.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	if d.from, err = d.cmd.StdoutPipe(); err != nil {
		t.Fatal(err)
	}
	if err := d.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		d.Close()
		if err := d.cmd.Wait(); err != nil || d.errs.Len() > 0 {
			t.Errorf("the fake device %v ended badly: %v\n%s", p, err, d.errs.String())
		}
	})
	return d
}

// run lets the device live until it sends something or that time has come.
func (d *Device) run(until time.Duration) error {
	n := min(len(d.input), 512)
	msg := binary.LittleEndian.AppendUint32(nil, uint32(until.Milliseconds()))
	msg = binary.LittleEndian.AppendUint16(msg, uint16(n))
	if _, err := d.to.Write(append(msg, d.input[:n]...)); err != nil {
		return fmt.Errorf("write to the fake device: %w\n%s", err, d.errs.String())
	}
	d.input = d.input[n:]
	var head [8]byte
	if _, err := io.ReadFull(d.from, head[:]); err != nil {
		return fmt.Errorf("read from the fake device: %w\n%s", err, d.errs.String())
	}
	d.now = max(d.now, time.Duration(binary.LittleEndian.Uint32(head[:]))*time.Millisecond)
	out := make([]byte, binary.LittleEndian.Uint32(head[4:]))
	if _, err := io.ReadFull(d.from, out); err != nil {
		return fmt.Errorf("read from the fake device: %w", err)
	}
	d.have = append(d.have, out...)
	return nil
}

// Receive lets the device run until it has sent something or wait is over.
func (d *Device) Receive(p []byte, wait time.Duration) (int, error) {
	for until := d.now + wait; ; {
		if len(d.have) > 0 {
			n := copy(p, d.have)
			d.have = d.have[n:]
			return n, nil
		}
		if d.now >= until {
			return 0, nil
		}
		if err := d.run(max(d.now+time.Millisecond, until)); err != nil {
			return 0, err
		}
	}
}

// Send hands bytes to the device's next steps.
func (d *Device) Send(p []byte) error {
	d.input = append(d.input, p...)
	return nil
}

// Now is virtual.
func (d *Device) Now() time.Duration { return d.now }

// Close ends the device.
func (d *Device) Close() error {
	d.once.Do(func() { d.to.Close() })
	return nil
}
