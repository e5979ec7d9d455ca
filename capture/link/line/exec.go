package line

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"runtime"
	"strings"
	"sync"
	"time"
)

// A child is a program whose standard streams are the line.
type child struct {
	cmd  *exec.Cmd
	in   io.WriteCloser
	out  io.ReadCloser
	said chan struct{} // closed when standard error has been read to its end
	once sync.Once
}

// start runs a command by the system's shell, as bench.yaml's owner wrote it.
func start(command string, opt Options) (*child, error) {
	shell := []string{"sh", "-c", command}
	if runtime.GOOS == "windows" {
		shell = []string{"cmd", "/c", command}
	}
	c := &child{cmd: exec.Command(shell[0], shell[1:]...), said: make(chan struct{})}
	c.cmd.Dir = opt.Dir
	c.cmd.WaitDelay = 500 * time.Millisecond
	ownGroup(c.cmd)
	var err error
	if c.in, err = c.cmd.StdinPipe(); err != nil {
		return nil, err
	}
	if c.out, err = c.cmd.StdoutPipe(); err != nil {
		return nil, err
	}
	errs, err := c.cmd.StderrPipe()
	if err != nil {
		return nil, err
	}
	if err := c.cmd.Start(); err != nil {
		return nil, fmt.Errorf("run %q: %w", command, err)
	}
	go func() {
		defer close(c.said)
		for lines := bufio.NewScanner(errs); lines.Scan(); {
			opt.Notice(strings.TrimSpace(lines.Text()))
		}
	}()
	return c, nil
}

func (c *child) Read(p []byte) (int, error) {
	n, err := c.out.Read(p)
	if errors.Is(err, io.EOF) {
		if ended := c.end(); ended != nil {
			err = fmt.Errorf("the program ended: %w", ended)
		} else {
			err = errors.New("the program ended")
		}
	}
	return n, err
}

func (c *child) Write(p []byte) (int, error) { return c.in.Write(p) }

// end closes the child's input, which ends a well-made program, and kills what is left of it.
func (c *child) end() error {
	var err error
	c.once.Do(func() {
		c.in.Close()
		timer := time.AfterFunc(400*time.Millisecond, func() { killGroup(c.cmd) })
		select {
		case <-c.said:
		case <-time.After(600 * time.Millisecond): // something that left the group keeps the pipe
		}
		err = c.cmd.Wait()
		timer.Stop()
		killGroup(c.cmd) // what it may have left running
	})
	return err
}

func (c *child) Close() error {
	c.end()
	return nil
}
