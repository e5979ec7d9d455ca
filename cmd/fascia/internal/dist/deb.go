//go:build linux

package main

import (
	"errors"
	"fmt"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
)

// deb makes the Debian package, with camera, after the Debian Policy Manual (chapters 5 and 12). What it depends on
// is found out by dpkg-shlibdeps from what the command links to.
func (r *release) deb() error {
	root := filepath.Join(r.scratch, "deb")
	command := filepath.Join(root, "usr/bin/fascia")
	log.Print("building the Debian package")
	if err := r.goBuild(command, []string{"CGO_ENABLED=1"}, "-tags", "camera"); err != nil {
		return err
	}
	arch, err := output("dpkg", "--print-architecture")
	if err != nil {
		return err
	}
	depends, err := depends(r.scratch, command)
	if err != nil {
		return err
	}
	put := func(from, to string) error {
		data, err := os.ReadFile(from)
		if err != nil {
			return err
		}
		to = filepath.Join(root, to)
		return errors.Join(os.MkdirAll(filepath.Dir(to), 0o755), os.WriteFile(to, data, 0o644))
	}
	pages, err := filepath.Glob(filepath.Join(r.docs, "man", "*.1"))
	if err != nil {
		return err
	}
	for _, p := range pages {
		if err := put(p, "usr/share/man/man1/"+filepath.Base(p)); err != nil {
			return err
		}
	}
	for from, to := range map[string]string{
		filepath.Join(r.docs, "completions/fascia.bash"): "usr/share/bash-completion/completions/fascia",
		filepath.Join(r.docs, "completions/fascia.zsh"):  "usr/share/zsh/vendor-completions/_fascia",
		filepath.Join(r.docs, "completions/fascia.fish"): "usr/share/fish/vendor_completions.d/fascia.fish",
		"LICENSE":   "usr/share/doc/fascia/copyright",
		"README.md": "usr/share/doc/fascia/README.md",
	} {
		if err := put(from, to); err != nil {
			return err
		}
	}
	version := debVersion(r.version)
	control := fmt.Sprintf(`Package: fascia
Version: %s
Section: devel
Priority: optional
Architecture: %s
Maintainer: The maintainers of fascia <maintainers@fernhouse.example>
Depends: %s
Description: proves that a device's screens still look as approved
 Drives a handheld device through scripted input, captures what its panel
 shows, holds each capture against an approved golden, and says in plain
 words what changed and why it probably changed.
`, version, arch, depends)
	if err := os.MkdirAll(filepath.Join(root, "DEBIAN"), 0o755); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(root, "DEBIAN/control"), []byte(control), 0o644); err != nil {
		return err
	}
	name := fmt.Sprintf("fascia_%s_%s.deb", version, arch)
	build := exec.Command("dpkg-deb", "--root-owner-group", "--build", root, filepath.Join(r.out, name))
	build.Env = append(os.Environ(), fmt.Sprintf("SOURCE_DATE_EPOCH=%d", r.when.Unix()))
	if out, err := build.CombinedOutput(); err != nil {
		return fmt.Errorf("%v: %w\n%s", build, err, out)
	}
	r.made = append(r.made, name)
	return nil
}

// depends finds the packages of the libraries that a command links to.
func depends(scratch, command string) (string, error) {
	// dpkg-shlibdeps wants to stand in a source package.
	if err := os.MkdirAll(filepath.Join(scratch, "debian"), 0o755); err != nil {
		return "", err
	}
	if err := os.WriteFile(filepath.Join(scratch, "debian/control"), []byte("Source: fascia\n\nPackage: fascia\nArchitecture: any\n"), 0o644); err != nil {
		return "", err
	}
	cmd := exec.Command("dpkg-shlibdeps", "-O", command)
	cmd.Dir = scratch
	out, err := cmd.Output()
	if err != nil {
		return "", fmt.Errorf("%v: %w", cmd, err)
	}
	list, ok := strings.CutPrefix(strings.TrimSpace(string(out)), "shlibs:Depends=")
	if !ok || list == "" {
		return "", fmt.Errorf("%v names no package: %q", cmd, out)
	}
	return list, nil
}

var notInVersion = regexp.MustCompile(`[^A-Za-z0-9.+~]+`)

// debVersion makes of a version one that Debian takes (Debian Policy Manual, 5.6.12): it begins with a digit, and
// what stands after a dash, such as a commit, sorts after the tag.
func debVersion(v string) string {
	v = notInVersion.ReplaceAllString(strings.TrimPrefix(v, "v"), "+")
	if v == "" || v[0] < '0' || v[0] > '9' || !strings.Contains(v, ".") {
		return "0~" + v // a bare commit: before every release
	}
	return v
}
