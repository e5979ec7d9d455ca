// Package licences holds the licences of what this project is built from against what goes with its own.
package licences

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/licensecheck"
)

// compatible are the licences that go with Apache-2.0 in one work, by their SPDX names: all of them permissive
// (Apache Software Foundation, "ASF 3rd party license policy", category A).
var compatible = []string{"Apache-2.0", "MIT", "BSD-2-Clause", "BSD-3-Clause", "ISC", "0BSD", "Unlicense", "CC0-1.0", "blessing", "Zlib"}

// Every module that a build or a test needs, with the camera too, has a licence file that says one of those.
func TestLicencesGoWithOurs(t *testing.T) {
	list := exec.Command("go", "list", "-deps", "-test", "-tags", "camera", "-f", "{{with .Module}}{{.Path}}\t{{.Dir}}{{end}}", "./...")
	list.Dir = "../.."
	out, err := list.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	modules := strings.Split(strings.TrimSpace(string(out)), "\n")
	slices.Sort(modules)
	for _, m := range slices.Compact(modules) {
		path, dir, ok := strings.Cut(m, "\t")
		if !ok || path == "github.com/fascia-bench/fascia" {
			continue
		}
		names := namesOf(t, dir)
		if len(names) == 0 {
			t.Errorf("%s: no licence is known in %s", path, dir)
		}
		for _, name := range names {
			if !slices.Contains(compatible, name) {
				t.Errorf("%s is under %s", path, name)
			}
		}
		t.Logf("%s: %s", path, strings.Join(names, ", "))
	}
}

// namesOf finds the licences in a module's folder.
func namesOf(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		lower := strings.ToLower(e.Name())
		if e.IsDir() || !strings.HasPrefix(lower, "licen") && !strings.HasPrefix(lower, "copying") {
			continue
		}
		text, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range licensecheck.Scan(text).Match {
			if !slices.Contains(names, m.ID) {
				names = append(names, m.ID)
			}
		}
	}
	return names
}
