package whole

import (
	"errors"
	"io"
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

func TestPourThatBreaksOffLeavesTheOldFile(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "page")
	if err := Write(file, []byte("old")); err != nil {
		t.Fatal(err)
	}
	broke := errors.New("broke off")
	err := Pour(file, func(w io.Writer) error {
		if _, err := w.Write(make([]byte, 1<<20)); err != nil {
			return err
		}
		return broke
	})
	if !errors.Is(err, broke) {
		t.Errorf("what broke off ended with %v", err)
	}
	if got, err := os.ReadFile(file); err != nil || string(got) != "old" {
		t.Errorf("the old file is %q, %v", got, err)
	}
	if left, _ := os.ReadDir(dir); len(left) != 1 {
		t.Errorf("%d files are left, want the one", len(left))
	}
}
