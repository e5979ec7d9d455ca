//go:build linux

// Command dist makes what is handed out of a version, into one folder:
//
//	fascia-V-OS-ARCH.tar.gz, .zip   the static command without camera, manual pages, completions, licence
//	fascia_V_ARCH.deb               with camera, for the Debian that it is made on
//	fascia-agent-V.zip              the device's end, as a library that C build systems and IDEs take in
//	fascia-V.cdx.json               what the command is made of, as CycloneDX 1.6
//	SHA256SUMS                      of all of them
//
// It then starts what it made: the static command runs the demo in an empty root, those for Arm say their version
// under an emulator. Files carry the time of the commit, so that the same source gives the same archives.
package main

import (
	"flag"
	"fmt"
	"log"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// A platform is an operating system and a processor that the static command is built for.
type platform struct {
	os, arch, arm string
	emulator      string // to start it with; "" where it is not started here
}

var platforms = []platform{
	{"linux", "amd64", "", ""},
	{"linux", "arm64", "", "qemu-aarch64-static"},
	{"linux", "arm", "7", "qemu-arm-static"},
	{"darwin", "arm64", "", ""},
	{"darwin", "amd64", "", ""},
	{"windows", "amd64", "", ""},
}

func (p platform) String() string {
	if p.arm != "" {
		return p.os + "-" + p.arch + "v" + p.arm
	}
	return p.os + "-" + p.arch
}

// A release is what is being made.
type release struct {
	out     string
	version string
	when    time.Time
	scratch string
	docs    string // folder of manual pages and completions
	made    []string
}

func main() {
	log.SetFlags(0)
	log.SetPrefix("dist: ")
	r := &release{}
	flag.StringVar(&r.out, "o", "dist", "the folder to write; it is emptied of earlier versions")
	flag.StringVar(&r.version, "version", "", "the version to stamp in; else what git describe says")
	deb := flag.Bool("deb", true, "make the Debian package, with camera")
	flag.Parse()
	if err := r.run(*deb); err != nil {
		log.Fatal(err)
	}
}

func (r *release) run(deb bool) error {
	var err error
	if r.version == "" {
		if r.version, err = output("git", "describe", "--tags", "--always", "--dirty"); err != nil {
			return err
		}
	}
	at, err := output("git", "log", "-1", "--format=%ct")
	if err != nil {
		return err
	}
	seconds, err := strconv.ParseInt(at, 10, 64)
	if err != nil {
		return fmt.Errorf("the commit's time: %w", err)
	}
	r.when = time.Unix(seconds, 0).UTC()
	if r.scratch, err = os.MkdirTemp("", "fascia-dist"); err != nil {
		return err
	}
	defer os.RemoveAll(r.scratch)
	if err := os.MkdirAll(r.out, 0o777); err != nil {
		return err
	}
	old, err := filepath.Glob(filepath.Join(r.out, `fascia[_\-]*`))
	if err != nil {
		return err
	}
	for _, f := range old {
		if err := os.Remove(f); err != nil {
			return err
		}
	}
	binaries := map[platform]string{}
	for _, p := range platforms {
		if binaries[p], err = r.build(p); err != nil {
			return err
		}
	}
	if err := r.check(binaries); err != nil {
		return err
	}
	if err := r.writeDocs(binaries[platforms[0]]); err != nil {
		return err
	}
	for _, p := range platforms {
		if err := r.archive(p, binaries[p]); err != nil {
			return err
		}
	}
	if err := r.agent(binaries[platforms[0]]); err != nil {
		return err
	}
	if err := r.bom(binaries[platforms[0]]); err != nil {
		return err
	}
	if deb {
		if err := r.deb(); err != nil {
			return err
		}
	}
	return r.sums()
}

// build makes the static command for a platform.
func (r *release) build(p platform) (string, error) {
	file := filepath.Join(r.scratch, p.String(), "fascia")
	if p.os == "windows" {
		file += ".exe"
	}
	log.Printf("building for %v", p)
	return file, r.goBuild(file, []string{"CGO_ENABLED=0", "GOOS=" + p.os, "GOARCH=" + p.arch, "GOARM=" + p.arm})
}

func (r *release) goBuild(file string, env []string, args ...string) error {
	args = append([]string{"build", "-trimpath", "-ldflags", "-s -w -X main.stamp=" + r.version, "-o", file}, args...)
	cmd := exec.Command("go", append(args, "./cmd/fascia")...)
	cmd.Env = append(os.Environ(), env...)
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("go %s: %w\n%s", strings.Join(args, " "), err, out)
	}
	return nil
}

// writeDocs has the command write what goes beside it.
func (r *release) writeDocs(command string) error {
	r.docs = filepath.Join(r.scratch, "docs")
	man := exec.Command(command, "man", "-o", filepath.Join(r.docs, "man"))
	man.Env = append(os.Environ(), fmt.Sprintf("SOURCE_DATE_EPOCH=%d", r.when.Unix()))
	if out, err := man.CombinedOutput(); err != nil {
		return fmt.Errorf("%v: %w\n%s", man, err, out)
	}
	if err := os.MkdirAll(filepath.Join(r.docs, "completions"), 0o777); err != nil {
		return err
	}
	for _, shell := range []string{"bash", "zsh", "fish", "powershell"} {
		text, err := exec.Command(command, "completion", shell).Output()
		if err != nil {
			return fmt.Errorf("completion for %s: %w", shell, err)
		}
		if err := os.WriteFile(filepath.Join(r.docs, "completions", "fascia."+shell), text, 0o666); err != nil {
			return err
		}
	}
	return nil
}

func output(name string, args ...string) (string, error) {
	cmd := exec.Command(name, args...)
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		return "", fmt.Errorf("%v: %w", cmd, err)
	}
	return strings.TrimSpace(string(out)), nil
}
