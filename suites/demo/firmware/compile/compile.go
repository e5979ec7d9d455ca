// Package compile makes twins of the Fernhouse firmware: freestanding WebAssembly, by Debian's clang
// and lld.
//
// A hash of the sources and flags is stored in each .wasm, in a custom section, so a stale
// one is noticed where there is no clang.
package compile

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"sort"
	"strings"
	"sync"
)

// A Variant is one build of the firmware that is committed.
type Variant struct {
	File  string // relative to suites/demo
	Flags []string
}

// Variants are the twins beside the demo's walks, and those that tests want.
var Variants = []Variant{
	{"fernhouse-draw-1.wasm", []string{"-DDRAW_MAJOR=1"}},
	{"fernhouse-draw-2.wasm", []string{"-DDRAW_MAJOR=2"}},
	{"testdata/fernhouse-panic.wasm", []string{"-DDRAW_MAJOR=1", "-DFERN_FAULT_PANIC"}},
	{"testdata/fernhouse-strip-1.wasm", []string{"-DDRAW_MAJOR=1", "-DFERN_STRIP", "-DFASCIA_STRIP=1"}},
	{"testdata/fernhouse-strip-2.wasm", []string{"-DDRAW_MAJOR=2", "-DFERN_STRIP", "-DFASCIA_STRIP=1"}},
}

// Boards are builds for other panels than the demo's of 320x240 and 16 bits, by which runs of different boards are
// held against each other. They are not committed: a test that wants one compiles it.
var Boards = []Variant{
	{"testdata/boards/fernhouse-square.wasm", []string{"-DDRAW_MAJOR=1", "-DFERN_W=240", "-DFERN_H=240"}},
	{"testdata/boards/fernhouse-deep.wasm", []string{"-DDRAW_MAJOR=1", "-DDRAW_DEPTH=24"}},
	{"testdata/boards/fernhouse-deep-2.wasm", []string{"-DDRAW_MAJOR=2", "-DDRAW_DEPTH=24"}},
	{"testdata/boards/fernhouse-mono.wasm", []string{"-DDRAW_MAJOR=1", "-DFERN_W=128", "-DFERN_H=64", "-DFERN_SMALL", "-DDRAW_WHOLE"}},
}

// Section is the custom section that holds the sources' hash.
const Section = "fascia-sources"

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

// SourcesHash covers every C file and header that a build may read, and the flags.
func SourcesHash(firmware string, v Variant) (string, error) {
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
	fmt.Fprintln(h, compileFlags, linkFlags, v.Flags)
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

// Write builds variants into the demo's folder and tells of each how large it is.
func Write(demo string, list []Variant, told func(file string, bytes int)) error {
	for _, v := range list {
		wasm, err := Build(filepath.Join(demo, "firmware"), v)
		if err != nil {
			return fmt.Errorf("build %s: %w", v.File, err)
		}
		file := filepath.Join(demo, filepath.FromSlash(v.File))
		if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
			return fmt.Errorf("build %s: %w", v.File, err)
		}
		if err := os.WriteFile(file, wasm, 0o666); err != nil {
			return fmt.Errorf("build %s: %w", v.File, err)
		}
		told(file, len(wasm))
	}
	return nil
}

// Build compiles a variant and returns the .wasm with its sources' hash.
func Build(firmware string, v Variant) ([]byte, error) {
	hash, err := SourcesHash(firmware, v)
	if err != nil {
		return nil, err
	}
	tmp, err := os.MkdirTemp("", "fernhouse")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(tmp)
	o, err := Compile(firmware, tmp, v.Flags, hash[:12])
	if err != nil {
		return nil, err
	}
	wasm, err := o.Link(nil)
	if err != nil {
		return nil, err
	}
	return addSection(wasm, Section, []byte(hash)), nil
}

// Objects are a build's compiled files, of which some can be replaced at linking.
type Objects struct {
	firmware, dir, id string
	flags             []string
	files             []string // of C, and their objects
	objects           map[string]string
}

// Compile compiles the firmware into dir; id is the build that it says it is.
func Compile(firmware, dir string, flags []string, id string) (*Objects, error) {
	files, err := sources(firmware)
	if err != nil {
		return nil, err
	}
	o := &Objects{firmware, dir, id, flags, files, map[string]string{}}
	var all sync.WaitGroup
	turn := make(chan bool, runtime.NumCPU())
	objects, errs := make([]string, len(files)), make([]error, len(files))
	for i, f := range files {
		all.Go(func() {
			turn <- true
			objects[i], errs[i] = o.compile(f, fmt.Sprintf("%02d.o", i))
			<-turn
		})
	}
	all.Wait()
	for i, f := range files {
		if errs[i] != nil {
			return nil, errs[i]
		}
		o.objects[f] = objects[i]
	}
	return o, nil
}

func (o *Objects) run(name string, args ...string) error {
	cmd := exec.Command(name, args...)
	cmd.Dir = o.firmware
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("%s: %w\n%s", name, err, out)
	}
	return nil
}

func (o *Objects) compile(file, object string, more ...string) (string, error) {
	object = filepath.Join(o.dir, object)
	args := append(append([]string{}, compileFlags...), o.flags...)
	args = append(append(args, more...), fmt.Sprintf("-DFERN_BUILD=%q", o.id), "-c", file, "-o", object)
	return object, o.run("clang", args...)
}

// Link makes a .wasm, with other texts in the place of some files of C. It has no hash.
func (o *Objects) Link(instead map[string][]byte) ([]byte, error) {
	list := []string{}
	for i, f := range o.files {
		object := o.objects[f]
		if text, ok := instead[f]; ok {
			c := filepath.Join(o.dir, fmt.Sprintf("%02d-instead.c", i))
			if err := os.WriteFile(c, text, 0o666); err != nil {
				return nil, err
			}
			var err error
			if object, err = o.compile(c, fmt.Sprintf("%02d-instead.o", i), "-iquote", ".", "-iquote", filepath.Dir(f)); err != nil {
				return nil, err
			}
		}
		list = append(list, object)
	}
	linked := filepath.Join(o.dir, "linked.wasm")
	if err := o.run("wasm-ld", append(append(append([]string{}, linkFlags...), list...), "-o", linked)...); err != nil {
		return nil, err
	}
	return os.ReadFile(linked)
}

// addSection appends a custom section (WebAssembly core specification, 5.5.3).
func addSection(wasm []byte, name string, data []byte) []byte {
	body := append(binary.AppendUvarint(nil, uint64(len(name))), name...)
	body = append(body, data...)
	wasm = append(wasm, 0)
	wasm = binary.AppendUvarint(wasm, uint64(len(body)))
	return append(wasm, body...)
}

// ReadSection finds a custom section's data.
func ReadSection(wasm []byte, name string) ([]byte, bool) {
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
