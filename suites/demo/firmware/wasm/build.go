// Command wasm compiles the Fernhouse firmware to the twins that are committed beside the
// demo's walks: freestanding WebAssembly, by Debian's clang and lld.
//
// A hash of the sources and flags is stored in each .wasm, in a custom section, so a stale
// one is noticed where there is no clang (see the test beside this file).
package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
)

// A variant is one build of the firmware.
type variant struct {
	file  string // relative to suites/demo
	flags []string
}

var variants = []variant{
	{"fernhouse-draw-1.wasm", []string{"-DDRAW_MAJOR=1"}},
	{"fernhouse-draw-2.wasm", []string{"-DDRAW_MAJOR=2"}},
	{"testdata/fernhouse-panic.wasm", []string{"-DDRAW_MAJOR=1", "-DFERN_FAULT_PANIC"}},
	{"testdata/fernhouse-strip-1.wasm", []string{"-DDRAW_MAJOR=1", "-DFERN_STRIP", "-DFASCIA_STRIP=1"}},
	{"testdata/fernhouse-strip-2.wasm", []string{"-DDRAW_MAJOR=2", "-DFERN_STRIP", "-DFASCIA_STRIP=1"}},
}

const section = "fascia-sources"

var (
	compileFlags = []string{"--target=wasm32", "-std=c99", "-Os", "-ffreestanding", "-fno-builtin", "-nostdlib",
		"-Wall", "-Wextra", "-Wconversion", "-Werror", "-ffile-prefix-map=.=.", "-isystem", "port/freestanding"}
	linkFlags = []string{"--no-entry", "--gc-sections", "--strip-all", "-z", "stack-size=65536"}
	agent     = []string{"../../../capture/link/agent/fascia_agent.c"}
	port      = []string{"port/fern_agent.c", "port/fern_pattern.c", "port/twin.c", "port/freestanding/string.c"}
)

// sources lists the C files of a build, relative to the firmware's folder.
func sources(firmware string) ([]string, error) {
	list, err := os.ReadFile(filepath.Join(firmware, "sources.txt"))
	if err != nil {
		return nil, err
	}
	return append(append(strings.Fields(string(list)), agent...), port...), nil
}

// sourcesHash covers every C file and header that a build may read, and the flags.
func sourcesHash(firmware string, v variant) (string, error) {
	files, err := sources(firmware)
	if err != nil {
		return "", err
	}
	for _, pattern := range []string{"*.h", "draw/*.h", "port/*.h", "port/freestanding/*.h", "../../../capture/link/agent/*.h"} {
		headers, err := filepath.Glob(filepath.Join(firmware, pattern))
		if err != nil {
			return "", err
		}
		if len(headers) == 0 {
			return "", fmt.Errorf("no header matches %s", pattern)
		}
		for _, h := range headers {
			rel, err := filepath.Rel(firmware, h)
			if err != nil {
				return "", err
			}
			files = append(files, filepath.ToSlash(rel))
		}
	}
	sort.Strings(files)
	h := sha256.New()
	fmt.Fprintln(h, compileFlags, linkFlags, v.flags)
	for _, f := range files {
		b, err := os.ReadFile(filepath.Join(firmware, f))
		if err != nil {
			return "", err
		}
		b = bytes.ReplaceAll(b, []byte("\r\n"), []byte("\n")) // a checkout elsewhere may have changed line ends
		fmt.Fprintf(h, "%s %d\n", f, len(b))
		h.Write(b)
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// build compiles a variant and returns the .wasm with its sources' hash.
func build(firmware string, v variant) ([]byte, error) {
	hash, err := sourcesHash(firmware, v)
	if err != nil {
		return nil, err
	}
	files, err := sources(firmware)
	if err != nil {
		return nil, err
	}
	tmp, err := os.MkdirTemp("", "fernhouse")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(tmp)
	run := func(name string, args ...string) error {
		cmd := exec.Command(name, args...)
		cmd.Dir = firmware
		if out, err := cmd.CombinedOutput(); err != nil {
			return fmt.Errorf("%s: %w\n%s", name, err, out)
		}
		return nil
	}
	var objects []string
	for i, f := range files {
		o := filepath.Join(tmp, fmt.Sprintf("%02d.o", i))
		args := append(append([]string{}, compileFlags...), v.flags...)
		args = append(args, fmt.Sprintf("-DFERN_BUILD=%q", hash[:12]), "-c", f, "-o", o)
		if err := run("clang", args...); err != nil {
			return nil, err
		}
		objects = append(objects, o)
	}
	linked := filepath.Join(tmp, "linked.wasm")
	if err := run("wasm-ld", append(append(append([]string{}, linkFlags...), objects...), "-o", linked)...); err != nil {
		return nil, err
	}
	wasm, err := os.ReadFile(linked)
	if err != nil {
		return nil, err
	}
	return addSection(wasm, section, []byte(hash)), nil
}

// addSection appends a custom section (WebAssembly core specification, 5.5.3).
func addSection(wasm []byte, name string, data []byte) []byte {
	body := append(binary.AppendUvarint(nil, uint64(len(name))), name...)
	body = append(body, data...)
	wasm = append(wasm, 0)
	wasm = binary.AppendUvarint(wasm, uint64(len(body)))
	return append(wasm, body...)
}

// readSection finds a custom section's data.
func readSection(wasm []byte, name string) ([]byte, bool) {
	if len(wasm) < 8 {
		return nil, false
	}
	for rest := wasm[8:]; len(rest) > 1; {
		id := rest[0]
		size, n := binary.Uvarint(rest[1:])
		if n <= 0 || uint64(len(rest)-1-n) < size {
			return nil, false
		}
		body := rest[1+n : 1+n+int(size)]
		rest = rest[1+n+int(size):]
		l, n := binary.Uvarint(body)
		if id == 0 && n > 0 && uint64(len(body)-n) >= l && string(body[n:n+int(l)]) == name {
			return body[n+int(l):], true
		}
	}
	return nil, false
}
