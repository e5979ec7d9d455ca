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

// DEVELOPERS.md gives a reason for each module that we ask for ourselves, and for no other.
func TestEveryModuleHasItsReason(t *testing.T) {
	text, err := os.ReadFile("../../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	_, table, found := strings.Cut(string(text), "| module | for |")
	if !found {
		t.Fatal("DEVELOPERS.md has no table of modules")
	}
	table, _, _ = strings.Cut(table, "\n#")
	list := exec.Command("go", "list", "-m", "-f", "{{if not (or .Indirect .Main)}}{{.Path}}{{end}}", "all")
	list.Dir = "../.."
	out, err := list.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	modules := strings.Fields(string(out))
	if len(modules) < 10 {
		t.Fatalf("go.mod asks for %d modules", len(modules))
	}
	known := 0
	for _, path := range modules {
		parts := strings.Split(path, "/")
		name := parts[len(parts)-1]
		if len(name) < 3 && name[0] == 'v' { // a major version
			name = parts[len(parts)-2]
		}
		if parts[0] == "golang.org" {
			name = "x/" + name
		}
		if !strings.Contains(table, name) {
			t.Errorf("DEVELOPERS.md gives no reason for %s", path)
			continue
		}
		known++
	}
	t.Logf("%d modules, each with its reason", known)
}
