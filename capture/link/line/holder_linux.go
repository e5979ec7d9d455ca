package line

import (
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
)

// holder names the program that has a port open, as far as this user may see. Root may open a
// port that another program holds for itself, so it is looked up and not only tried.
func holder(path string) string {
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		return ""
	}
	if !strings.HasPrefix(real, "/dev/tty") {
		return "" // both ends of a pseudo terminal may be ours
	}
	links, _ := filepath.Glob("/proc/[0-9]*/fd/*")
	for _, l := range links {
		if to, err := os.Readlink(l); err != nil || to != real {
			continue
		}
		pid := strings.Split(l, "/")[2]
		if pid == strconv.Itoa(os.Getpid()) {
			return "this program itself"
		}
		name, err := os.ReadFile("/proc/" + pid + "/comm")
		if err != nil {
			return "process " + pid
		}
		return fmt.Sprintf("%s (process %s)", strings.TrimSpace(string(name)), pid)
	}
	return ""
}
