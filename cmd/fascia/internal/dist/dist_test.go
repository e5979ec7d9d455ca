//go:build linux

package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"debug/buildinfo"
	"errors"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/CycloneDX/cyclonedx-go"
)

var commit = time.Date(2031, 5, 4, 9, 30, 0, 0, time.UTC)

// What Debian takes for newer is newer here, as dpkg itself compares.
func TestDebVersions(t *testing.T) {
	ordered := []string{"6d79ef2", "v0.1.0", "v0.1.0-3-g6d79ef2", "v0.2.0", "v0.10.0"}
	for i, v := range ordered[1:] {
		a, b := debVersion(ordered[i]), debVersion(v)
		if out, err := exec.Command("dpkg", "--compare-versions", a, "lt", b).CombinedOutput(); err != nil || len(out) > 0 {
			t.Errorf("%s is not older than %s: %v %s", a, b, err, out)
		}
	}
}

// Archives hold what they are given, and the same source gives the same bytes.
func TestArchives(t *testing.T) {
	file := filepath.Join(t.TempDir(), "fascia")
	if err := os.WriteFile(file, []byte("command"), 0o600); err != nil {
		t.Fatal(err)
	}
	items := []item{{"top/fascia", file, 0o755}}
	for name, write := range map[string]func(io.Writer, []item, time.Time) error{"tar": writeTar, "zip": writeZip} {
		var a, b bytes.Buffer
		if err := errors.Join(write(&a, items, commit), os.Chtimes(file, time.Now(), time.Now().Add(-time.Hour)), write(&b, items, commit)); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(a.Bytes(), b.Bytes()) {
			t.Errorf("%s: two archives of one source differ", name)
		}
		var got []byte
		var mode int64
		if name == "tar" {
			z, err := gzip.NewReader(&a)
			if err != nil {
				t.Fatal(err)
			}
			r := tar.NewReader(z)
			h, err := r.Next()
			if err != nil || h.Name != "top/fascia" || !h.ModTime.Equal(commit) {
				t.Errorf("tar: %v, %v", h, err)
			}
			mode = h.Mode
			got, _ = io.ReadAll(r)
		} else {
			r, err := zip.NewReader(bytes.NewReader(a.Bytes()), int64(a.Len()))
			if err != nil {
				t.Fatal(err)
			}
			mode = int64(r.File[0].Mode())
			f, err := r.File[0].Open()
			if err != nil {
				t.Fatal(err)
			}
			got, _ = io.ReadAll(f)
		}
		if string(got) != "command" || mode != 0o755 {
			t.Errorf("%s: %q, mode %o", name, got, mode)
		}
	}
}

// The bill of materials names every module of the running program once, and reads back.
func TestBOM(t *testing.T) {
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	info, err := buildinfo.ReadFile(self)
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := cyclonedx.NewBOMEncoder(&out, cyclonedx.BOMFileFormatJSON).EncodeVersion(bomOf(info, "v1.2.3", commit), cyclonedx.SpecVersion1_6); err != nil {
		t.Fatal(err)
	}
	var back cyclonedx.BOM
	if err := cyclonedx.NewBOMDecoder(&out, cyclonedx.BOMFileFormatJSON).Decode(&back); err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, c := range *back.Components {
		if seen[c.PackageURL] || !strings.HasPrefix(c.PackageURL, "pkg:golang/") {
			t.Errorf("component %s twice, or without a package URL", c.PackageURL)
		}
		seen[c.PackageURL] = true
	}
	for _, m := range info.Deps {
		if !seen["pkg:golang/"+m.Path+"@"+m.Version] {
			t.Errorf("%s is missing", m.Path)
		}
	}
	if len(*(*back.Dependencies)[0].Dependencies) != len(*back.Components) {
		t.Error("not every component is one that the command depends on")
	}
}
