package demo

import (
	"os/exec"
	"testing"
)

// The firmware's own tests, in C: strict compilers, sanitizers, partial against full refresh,
// and the screens that draw-2 must and must not change.
func TestFirmware(t *testing.T) {
	out, err := exec.Command("sh", "firmware/test.sh").CombinedOutput()
	if err != nil {
		t.Fatalf("firmware/test.sh: %v (it needs gcc; make test installs it on Debian)\n%s", err, out)
	}
	t.Logf("%s", out)
}
