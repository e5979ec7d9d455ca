// Command mps2 builds the Fernhouse firmware for a Cortex-M3, to be run by
// qemu-system-arm -M mps2-an385. It needs gcc-arm-none-eabi.
package main

import (
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

// flags are those of the firmware's other builds, but for the processor.
var flags = []string{"-mcpu=cortex-m3", "-mthumb", "-std=c99", "-Os", "-ffreestanding", "-ffunction-sections", "-fdata-sections",
	"-Wall", "-Wextra", "-Wconversion", "-Werror", "-isystem", "port/freestanding",
	"-nostdlib", "-Wl,--gc-sections", "-Wl,-T,port/mps2/mps2.ld"}

// build compiles the firmware in that folder, with a version of the drawing layer.
func build(firmware, out string, draw int, extra ...string) error {
	return buildWith(firmware, out, draw, []string{"port/fern_agent.c", "port/fern_pattern.c", "port/mps2/main.c"}, extra...)
}

// buildWith compiles it with what is to run it.
func buildWith(firmware, out string, draw int, port []string, extra ...string) error {
	list, err := os.ReadFile(filepath.Join(firmware, "sources.txt"))
	if err != nil {
		return err
	}
	if out, err = filepath.Abs(out); err != nil {
		return err
	}
	args := append(append([]string{}, flags...), fmt.Sprintf("-DDRAW_MAJOR=%d", draw), `-DFERN_BUILD="mps2"`)
	args = append(append(args, extra...), "-o", out)
	args = append(args, strings.Fields(string(list))...)
	args = append(args, "../../../capture/link/agent/fascia_agent.c", "port/freestanding/string.c")
	args = append(append(args, port...), "-lgcc")
	cmd := exec.Command("arm-none-eabi-gcc", args...)
	cmd.Dir = firmware
	if msg, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("arm-none-eabi-gcc (on Debian: apt install gcc-arm-none-eabi): %w\n%s", err, msg)
	}
	return nil
}

func main() {
	firmware := flag.String("firmware", filepath.Join("suites", "demo", "firmware"), "folder of the firmware")
	out := flag.String("o", "fernhouse-mps2.elf", "what to write")
	draw := flag.Int("draw", 1, "version of the drawing layer")
	flag.Parse()
	if err := build(*firmware, *out, *draw); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	fmt.Printf("%s; run it with: qemu-system-arm -M mps2-an385 -kernel %s -display none -monitor none -serial stdio\n", *out, *out)
}
