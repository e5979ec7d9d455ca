package link_test

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strconv"
	"strings"
	"testing"

	"github.com/fascia-bench/fascia/capture/capturetest"
)

// thumb are the flags of a Cortex-M3 build. The folder with string.h stands in for a C library's
// headers, which Debian's compiler package does not bring.
var thumb = []string{"-mcpu=cortex-m3", "-mthumb", "-Os", "-std=c99", "-ffunction-sections", "-fdata-sections",
	"-isystem", "../../suites/demo/firmware/port/freestanding"}

// The bounds of the design, everything in the agent included; memcpy, memset and strlen are the
// firmware's.
var builds = []struct {
	name     string
	flags    []string
	text     int // bytes of code and constants
	ram      int // bytes of struct fascia_agent
	moreThan int // what a build that lacks its codec would stay below
}{
	{"light", nil, 4096, 1024, 3000},
	{"dense", []string{"-DFASCIA_DENSE=1"}, 6144, 3072, 4400},
	{"strip", []string{"-DFASCIA_STRIP=1"}, 4096, 1024, 3500}, // and four bytes a tile, which the firmware provides
}

// shares says which feature a function serves; inlined ones count where they are called.
var shares = []struct{ name, functions string }{
	{"frames in and out", "crc32 receive take put full open_frame close_frame drop_frame drain get set"},
	{"hash", "hash_tile hash_row hash_band tile_key mix set_weights"},
	{"codec", "next_cells small_step number place next_rect step_cell op_run op_put row set_panel packing"},
	{"streams", "next pump next_hash stream coded"},
	{"hello, lists, observed input", "next_hello next_item next_seen op_text capabilities fascia_observed"},
	{"look, hold", "look frames fascia_holding fascia_mid_frame fascia_panel_changed"},
	{"input, clock, feed, patterns, reset", "act input"},
	{"poll and set-up", "fascia_poll work fascia_init"},
	{"dense codec", "next_keyed begin_row code_cell code_channels code_bits code learn near_cell"},
	{"strips", "fascia_strip hash_strip hash_all read_strip redraw starved top"},
	{"flushed areas", "note_area next_area"},
}

func TestAgentSizeOnCortexM3(t *testing.T) {
	if _, err := exec.LookPath("arm-none-eabi-gcc"); err != nil {
		t.Skip("needs arm-none-eabi-gcc; on Debian: apt install gcc-arm-none-eabi")
	}
	dir := t.TempDir()
	build := func(name, source string, flags ...string) string {
		t.Helper()
		o := filepath.Join(dir, name)
		args := append(append(append([]string{}, thumb...), flags...), "-c", source, "-o", o)
		if out, err := exec.Command("arm-none-eabi-gcc", args...).CombinedOutput(); err != nil {
			t.Fatalf("arm-none-eabi-gcc: %v\n%s", err, out)
		}
		return o
	}
	agent := filepath.Join(capturetest.AgentDir(), "fascia_agent.c")
	probe := filepath.Join(dir, "probe.c")
	header := fmt.Sprintf("#include %q\nchar agent[sizeof(struct fascia_agent)];\n", filepath.Join(capturetest.AgentDir(), "fascia_agent.h"))
	if err := os.WriteFile(probe, []byte(header), 0o666); err != nil {
		t.Fatal(err)
	}
	for _, b := range builds {
		out, err := exec.Command("arm-none-eabi-size", build("agent.o", agent, b.flags...)).Output()
		if err != nil {
			t.Fatal(err)
		}
		var text, data, bss int
		if _, err := fmt.Sscan(strings.SplitN(string(out), "\n", 2)[1], &text, &data, &bss); err != nil {
			t.Fatal(err)
		}
		ram := symbols(t, build("probe.o", probe, b.flags...))["agent"]
		narrow := symbols(t, build("probe.o", probe, append(b.flags, "-DFASCIA_CELL_MAX=2")...))["agent"]
		if data+bss != 0 {
			t.Errorf("the agent has %d bytes of globals; it is to have none", data+bss)
		}
		if text > b.text || ram > b.ram || text < b.moreThan {
			t.Errorf("%s: the agent takes %d bytes of code and %d of RAM; the bounds are %d and %d", b.name, text, ram, b.text, b.ram)
		}
		t.Logf("%s, Cortex-M3, -Os: %d bytes of code of %d, %d bytes of RAM of %d (%d for pixels of two bytes); stack: %d bytes at most in one function",
			b.name, text, b.text, ram, b.ram, narrow, deepest(t, dir, agent, b.flags...))
	}
	// What each feature weighs, compiled without inlining, which is a few per cent more in all.
	for _, b := range builds {
		t.Logf("shares of the %s build:", b.name)
		sizes := symbols(t, build("plain.o", agent, append(b.flags, "-fno-inline")...))
		for _, s := range shares {
			sum := 0
			for _, f := range strings.Fields(s.functions) {
				sum += sizes[f]
				delete(sizes, f)
			}
			if sum > 0 {
				t.Logf("  %-36s %5d", s.name, sum)
			}
		}
		if len(sizes) > 0 {
			var rest []string
			for f := range sizes {
				rest = append(rest, f)
			}
			sort.Strings(rest)
			t.Errorf("functions that belong to no feature: %v", rest)
		}
	}
}

// symbols returns the size of each function and object, whatever the compiler appended to its name.
func symbols(t *testing.T, object string) map[string]int {
	t.Helper()
	out, err := exec.Command("arm-none-eabi-nm", "-S", "-td", object).Output()
	if err != nil {
		t.Fatal(err)
	}
	sizes := map[string]int{}
	for line := range bytes.Lines(out) {
		f := strings.Fields(string(line)) // address, size, kind, name
		if len(f) != 4 {
			continue
		}
		size, err := strconv.Atoi(f[1])
		if err != nil {
			t.Fatal(err)
		}
		name, _, _ := strings.Cut(f[3], ".")
		sizes[name] += size
	}
	return sizes
}

// deepest is the largest stack frame that the compiler reports.
func deepest(t *testing.T, dir, source string, flags ...string) int {
	t.Helper()
	args := append(append(append([]string{}, thumb...), flags...), "-fstack-usage", "-c", source, "-o", filepath.Join(dir, "stack.o"))
	if out, err := exec.Command("arm-none-eabi-gcc", args...).CombinedOutput(); err != nil {
		t.Fatalf("arm-none-eabi-gcc: %v\n%s", err, out)
	}
	b, err := os.ReadFile(filepath.Join(dir, "stack.su"))
	if err != nil {
		t.Fatal(err)
	}
	most := 0
	for line := range bytes.Lines(b) {
		var n int
		if f := strings.Fields(string(line)); len(f) > 1 {
			fmt.Sscan(f[len(f)-2], &n)
		}
		most = max(most, n)
	}
	return most
}
