//go:build unix

package line

import (
	"fmt"
	"os"
	"os/user"
	"strconv"
	"syscall"
)

// remedy says which group may use a port, and the command that adds the user to it.
func remedy(path string) string {
	info, err := os.Stat(path)
	if err != nil {
		return err.Error()
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return "its owner may allow it"
	}
	group := strconv.FormatUint(uint64(st.Gid), 10)
	if g, err := user.LookupGroupId(group); err == nil {
		group = g.Name
	}
	if info.Mode().Perm()&0o060 != 0o060 {
		return fmt.Sprintf("its mode is %v; try sudo chmod g+rw %s", info.Mode(), path)
	}
	return fmt.Sprintf("it belongs to the group %s; run sudo usermod -aG %s $USER and log in again", group, group)
}
