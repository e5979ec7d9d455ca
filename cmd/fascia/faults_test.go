package main

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// FAULTS.md promises nothing that no test holds: every row names tests, and they exist.
func TestFaultTableNamesItsTests(t *testing.T) {
	const root = "../.."
	has := map[string]bool{}
	declared := regexp.MustCompile(`(?m)^func ((?:Test|Fuzz)\w+)\(`)
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		for _, m := range declared.FindAllSubmatch(text, -1) {
			has[string(m[1])] = true
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(root, "FAULTS.md"))
	if err != nil {
		t.Fatal(err)
	}
	rows := 0
	for n, line := range strings.Split(string(text), "\n") {
		cells := strings.Split(strings.Trim(line, "|"), " | ")
		if !strings.HasPrefix(line, "| ") || len(cells) != 3 || strings.HasPrefix(cells[0], " what fails") {
			continue
		}
		rows++
		names := regexp.MustCompile(`\b(?:Test|Fuzz)\w+`).FindAllString(cells[2], -1)
		if len(names) == 0 {
			t.Errorf("FAULTS.md:%d: no test holds it: %s", n+1, cells[0])
		}
		for _, name := range names {
			if !has[name] {
				t.Errorf("FAULTS.md:%d: there is no %s", n+1, name)
			}
		}
	}
	if rows < 25 {
		t.Errorf("%d rows were read", rows)
	}
}
