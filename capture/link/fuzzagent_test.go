package link_test

import (
	"encoding/base64"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/fascia-bench/fascia/capture/capturetest"
)

// The device end under libFuzzer and the sanitizers, each build: a seeded sample, and ten minutes each with
// FASCIA_LONG=1.
func TestFuzzTheAgent(t *testing.T) {
	if _, err := exec.LookPath("clang"); err != nil {
		t.Skip("needs clang; on Debian: apt install clang")
	}
	agent := capturetest.AgentDir()
	for _, build := range []string{"-DFASCIA_DENSE=0", "-DFASCIA_DENSE=1", "-DFASCIA_STRIP=1"} {
		t.Run(build, func(t *testing.T) {
			dir := t.TempDir()
			program, seeds := filepath.Join(dir, "fuzz"), filepath.Join(dir, "seeds")
			cmd := exec.Command("clang", "-std=c99", "-g", "-O1", "-fsanitize=fuzzer,address,undefined", "-fno-sanitize-recover=all", build,
				"-o", program, filepath.Join(agent, "test", "fuzz_agent.c"), filepath.Join(agent, "fascia_agent.c"))
			if out, err := cmd.CombinedOutput(); err != nil {
				t.Fatalf("%v\n%s", err, out)
			}
			if err := os.Mkdir(seeds, 0o777); err != nil {
				t.Fatal(err)
			}
			for i, s := range agentSeeds() {
				if err := os.WriteFile(filepath.Join(seeds, fmt.Sprint(i)), s, 0o666); err != nil {
					t.Fatal(err)
				}
			}
			effort := "-runs=1000"
			if os.Getenv("FASCIA_LONG") != "" {
				effort = "-max_total_time=600"
			}
			cmd = exec.Command(program, effort, "-seed=4", "-max_len=600", "-timeout=60", "-print_final_stats=1", seeds)
			cmd.Dir = dir
			out, err := cmd.CombinedOutput()
			if err != nil {
				t.Fatalf("%v\n%s", err, out)
			}
			t.Logf("%s", out[max(0, len(out)-400):])
		})
	}
}

// agentSeeds are requests of every kind on panels of every format, as fuzz_agent.c reads them.
func agentSeeds() (seeds [][]byte) {
	stream := []byte{30, 0, 0, 0, 0, 0, 0, 0}
	request := func(b ...byte) []byte { return append([]byte{byte(len(b))}, b...) }
	for format := range byte(11) {
		s := []byte{format, 70, 35}
		s = append(s, request(append([]byte{0x10, 1}, stream...)...)...)
		s = append(s, request(0x01, 2, 3, 1, 0, 9, 0)...)
		for kind := byte(0x11); kind <= 0x17; kind++ {
			for arg := range byte(4) {
				s = append(s, request(append(append([]byte{kind, kind + arg}, stream...), arg)...)...)
			}
		}
		s = append(s, request(append(append([]byte{0x13, 9}, stream...), 3, 0x80, 0, 1, 1, 1, 0, 1, 2)...)...)
		for kind := byte(0x20); kind <= 0x27; kind++ {
			s = append(s, request(kind, kind, 1, 0, 6, 'a', 0, 'b')...)
		}
		seeds = append(seeds, append(s, 3, 2, format, 9, 9, 0))
	}
	for _, text := range broke {
		input, err := base64.StdEncoding.DecodeString(text)
		if err != nil {
			panic(err)
		}
		seeds = append(seeds, input)
	}
	return seeds
}

// broke are inputs that broke the agent once, in base64, as libFuzzer prints them: strips that fail in the middle of a frame.
var broke = []string{"BcYjCgAAAB4AAAAAAAAAjhMTCR4AAAAAAAAAA4AAAQEBAAEIAiAgAQAGYQBiCCEhQQAGYRceAAAAAAsXGAEAAAAeAAAAAAAAQCELFxkeAABAAAAAAAILFxoeAAAAAAAAAAAAAAAAAAAbAA0AAAACBQkJAA=="}
