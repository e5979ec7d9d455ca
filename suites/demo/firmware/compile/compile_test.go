package compile

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

const demo = "../.."

func TestCommittedTwinsAreUpToDate(t *testing.T) {
	for _, v := range Variants {
		want, err := SourcesHash(filepath.Join(demo, "firmware"), v)
		if err != nil {
			t.Fatal(err)
		}
		wasm, err := os.ReadFile(filepath.Join(demo, v.File))
		if err != nil {
			t.Fatal(err)
		}
		got, ok := ReadSection(wasm, Section)
		if !ok || string(got) != want {
			t.Errorf("%s was built from other sources (%.12s) than those here (%.12s): run make firmware", v.File, got, want)
		}
	}
}

// The committed bytes are what the compiler makes of the sources. Only the version that
// built them can promise that; elsewhere the hash above has to do.
func TestRebuildGivesTheSameBytes(t *testing.T) {
	version, err := exec.Command("clang", "-dumpversion").Output()
	if err != nil || !bytes.HasPrefix(version, []byte("14.")) {
		t.Skipf("needs clang 14, as packaged by Debian 12; found %q", version)
	}
	for _, v := range Variants {
		got, err := Build(filepath.Join(demo, "firmware"), v)
		if err != nil {
			t.Fatal(err)
		}
		want, err := os.ReadFile(filepath.Join(demo, v.File))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s: clang makes %d other bytes than the %d committed", v.File, len(got), len(want))
		}
	}
}

func TestSection(t *testing.T) {
	empty := []byte("\x00asm\x01\x00\x00\x00")
	w := addSection(addSection(empty, "one", []byte("1")), Section, bytes.Repeat([]byte("x"), 200))
	if got, ok := ReadSection(w, "one"); !ok || string(got) != "1" {
		t.Errorf("section one = %q, %v", got, ok)
	}
	if got, ok := ReadSection(w, Section); !ok || len(got) != 200 {
		t.Errorf("section = %d bytes, %v", len(got), ok)
	}
	if _, ok := ReadSection(w[:len(w)-1], Section); ok {
		t.Error("a cut section was read")
	}
}
