package built

import (
	"bufio"
	"os"
	"os/exec"
	"strings"
	"sync"
	"testing"
)

// Serve runs the command in a process of its own until stop, which returns what it printed.
func Serve(t *testing.T, args ...string) (url string, cmd *exec.Cmd, stop func() string) {
	t.Helper()
	cmd = exec.Command(Path, args...)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	var errs strings.Builder
	cmd.Stderr = &errs
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	var said strings.Builder
	lines := bufio.NewScanner(out)
	if lines.Scan() {
		if i := strings.Index(lines.Text(), "http://"); i >= 0 {
			url = lines.Text()[i:]
		}
	}
	read := make(chan struct{})
	go func() {
		defer close(read)
		for lines.Scan() {
			said.WriteString(lines.Text() + "\n")
		}
	}()
	stop = sync.OnceValue(func() string {
		cmd.Process.Signal(os.Interrupt)
		<-read
		cmd.Wait()
		return said.String()
	})
	t.Cleanup(func() { stop() })
	if url == "" {
		stop()
		t.Fatalf("fascia %v names no address: %s", args, errs.String())
	}
	return url, cmd, stop
}
