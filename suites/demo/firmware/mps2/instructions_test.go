package main

import (
	"bufio"
	"context"
	"fmt"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// count runs the measuring program with one codec, and returns instructions and bytes by name.
func count(t testing.TB, dense int) (instructions, sent map[string]int) {
	t.Helper()
	for _, tool := range []string{"arm-none-eabi-gcc", "qemu-system-arm"} {
		if _, err := exec.LookPath(tool); err != nil {
			t.Skipf("needs %s; on Debian: apt install gcc-arm-none-eabi qemu-system-arm", tool)
		}
	}
	image := filepath.Join(t.TempDir(), "count.elf")
	if err := buildWith(filepath.Join(demo, "firmware"), image, 1, []string{"port/mps2/instructions.c"}, fmt.Sprintf("-DFASCIA_DENSE=%d", dense)); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, "qemu-system-arm", append(machine(image), "-icount", "shift=0", "-serial", "stdio")...)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	defer func() {
		cancel()
		cmd.Wait()
	}()
	instructions, sent = map[string]int{}, map[string]int{}
	for lines := bufio.NewScanner(out); lines.Scan(); {
		if lines.Text() == "end" {
			return instructions, sent
		}
		var name string
		var n, bytes int
		if _, err := fmt.Sscan(lines.Text(), &name, &n, &bytes); err != nil {
			t.Fatalf("%q: %v", strings.TrimSpace(lines.Text()), err)
		}
		instructions[name], sent[name] = n, bytes
	}
	t.Fatal("the program did not come to its end within a minute")
	return nil, nil
}

// What a look must not exceed: a small change costs little more than the hash of the panel.
func TestInstructionsOfALook(t *testing.T) {
	t.Parallel()
	n, sent := count(t, 0)
	if n["nothing"] > 200 {
		t.Errorf("measuring takes %d instructions itself", n["nothing"])
	}
	if n["unchanged"] == 0 || n["small"] < n["unchanged"] || n["new"] < n["small"] || n["small"] > 4*n["unchanged"] {
		t.Errorf("instructions %v", n)
	}
	if sent["unchanged"] == 0 || sent["unchanged"] > 40 || sent["new"] < 1000 || sent["new"] < sent["small"] {
		t.Errorf("bytes %v", sent)
	}
	again, _ := count(t, 0)
	for name := range n {
		if d := n[name] - again[name]; d < -80 || d > 80 {
			t.Errorf("%s takes %d instructions, another time %d", name, n[name], again[name])
		}
	}
}

// BenchmarkInstructions: instructions of the agent on a Cortex-M3 for a look at the demo's home screen,
// unchanged, with one widget changed (two tiles) and new, with each codec.
func BenchmarkInstructions(b *testing.B) {
	for dense, name := range []string{"light", "dense"} {
		b.Run(name, func(b *testing.B) {
			var n map[string]int
			for b.Loop() {
				n, _ = count(b, dense)
			}
			for _, look := range []string{"unchanged", "small", "new"} {
				b.ReportMetric(float64(n[look]), look+"-instructions")
			}
		})
	}
}
