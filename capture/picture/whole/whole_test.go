package whole

import (
	"os"
	"path/filepath"
	"testing"
)

func TestWriteReplacesInOneStep(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "a.json")
	for _, text := range []string{"first", "second, longer", ""} {
		if err := Write(file, []byte(text)); err != nil {
			t.Fatal(err)
		}
		if got, err := os.ReadFile(file); err != nil || string(got) != text {
			t.Errorf("read %q, %v; want %q", got, err, text)
		}
	}
	if left, _ := os.ReadDir(dir); len(left) != 1 {
		t.Errorf("%d files are left, want the one", len(left))
	}
}

func TestWriteThatFailsLeavesTheOldFile(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "taken")
	if err := os.MkdirAll(filepath.Join(file, "by a folder"), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := Write(file, []byte("x")); err == nil {
		t.Error("a folder was written over")
	}
	if left, _ := os.ReadDir(dir); len(left) != 1 {
		t.Errorf("%d files are left, want the folder alone", len(left))
	}
	if err := Write(filepath.Join(dir, "none", "x"), nil); err == nil {
		t.Error("a file was written into a folder that is not there")
	}
}
