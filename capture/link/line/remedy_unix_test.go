//go:build unix

package line

import (
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

// What may not be opened names the group that may, and the command that puts the user into it; where the group may not
// either, the command that lets it. Root may open anything, so the refusal is handed in.
func TestPortThatIsNotAllowed(t *testing.T) {
	path := filepath.Join(t.TempDir(), "ttyUSB0")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	g, err := user.LookupGroupId(strconv.FormatUint(uint64(info.Sys().(*syscall.Stat_t).Gid), 10))
	if err != nil {
		t.Fatal(err)
	}
	refusal := &os.PathError{Op: "open", Path: path, Err: syscall.EACCES}
	for mode, want := range map[os.FileMode]string{
		0o660: "it belongs to the group " + g.Name + "; run sudo usermod -aG " + g.Name + " $USER and log in again",
		0o600: "try sudo chmod g+rw " + path,
	} {
		if err := os.Chmod(path, mode); err != nil {
			t.Fatal(err)
		}
		got := explain(path, refusal).Error()
		if !strings.Contains(got, "not allowed to use "+path) || !strings.Contains(got, want) {
			t.Errorf("mode %v: %q, want %q", mode, got, want)
		}
	}
}
