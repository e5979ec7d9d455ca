//go:build linux

package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
)

// check starts what can be started here. No emulator is no excuse: it is named, and that is the end.
func (r *release) check(binaries map[platform]string) error {
	for _, p := range platforms {
		if p.emulator == "" {
			continue
		}
		out, err := exec.Command(p.emulator, binaries[p], "--version").CombinedOutput()
		if err != nil || !bytes.HasPrefix(out, []byte("fascia "+r.version+", ")) {
			return fmt.Errorf("start %v with %s: %w\n%s", p, p.emulator, err, out)
		}
		fmt.Fprintf(os.Stderr, "dist: %v under %s: %s", p, p.emulator, out)
	}
	return r.alone(binaries[platforms[0]])
}

// alone runs the demo in a root that holds the command, an empty folder for temporary files and an empty /dev/null, and
// nothing else: no library, no /proc, no shell.
func (r *release) alone(command string) error {
	root := filepath.Join(r.scratch, "root")
	for _, dir := range []string{"tmp", "dev"} {
		if err := os.MkdirAll(filepath.Join(root, dir), 0o777); err != nil {
			return err
		}
	}
	// What a process that is given no input reads: to make the device itself takes a privilege.
	if err := os.WriteFile(filepath.Join(root, "dev", "null"), nil, 0o666); err != nil {
		return err
	}
	data, err := os.ReadFile(command)
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(root, "fascia"), data, 0o755); err != nil {
		return err
	}
	cmd := exec.Command("/fascia", "demo", "-o", "/demo")
	cmd.Dir = "/"
	cmd.SysProcAttr = &syscall.SysProcAttr{Chroot: root}
	if os.Getuid() != 0 { // a root of one's own
		cmd.SysProcAttr.Cloneflags = syscall.CLONE_NEWUSER
		cmd.SysProcAttr.UidMappings = []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getuid(), Size: 1}}
		cmd.SysProcAttr.GidMappings = []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getgid(), Size: 1}}
	}
	out, err := cmd.CombinedOutput()
	if err != nil {
		return fmt.Errorf("the demo in an empty root: %w\n%s", err, out)
	}
	if !bytes.Contains(out, []byte("Every change above is in draw-2")) {
		return fmt.Errorf("the demo in an empty root did not come to its end:\n%s", out)
	}
	fmt.Fprintln(os.Stderr, "dist: the static command runs the demo in an empty root")
	return nil
}
