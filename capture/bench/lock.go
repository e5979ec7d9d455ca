package bench

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/gofrs/flock"
)

// ErrTaken means that another run has the bench's device.
var ErrTaken = errors.New("another run has this device")

// Lock takes the bench's device for this process: the device, not the file, since two files may name one
// port. Twins and host builds are started anew for each run and need none. It waits up to patience and
// then refuses, naming who has it. The lock ends with the process, however it ends.
func (b *Bench) Lock(ctx context.Context, who string, patience time.Duration) (release func(), err error) {
	kind, rest, _ := strings.Cut(b.Link, ":")
	if kind == "dump" {
		kind, rest, _ = strings.Cut(rest, ":")
	}
	if kind != "serial" && kind != "tcp" {
		return func() {}, nil
	}
	name, _, _ := strings.Cut(rest, "?")
	if kind == "serial" && !strings.HasPrefix(name, "usb=") {
		if real, err := filepath.EvalSymlinks(name); err == nil { // /dev/serial/by-id names the same port
			name = real
		}
	}
	sum := sha256.Sum256([]byte(kind + ":" + name))
	file := filepath.Join(os.TempDir(), "fascia-"+hex.EncodeToString(sum[:8])+".lock")
	l := flock.New(file, flock.SetPermissions(0o666))
	if patience <= 0 {
		patience = time.Millisecond
	}
	wait, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	ok, err := l.TryLockContext(wait, 100*time.Millisecond)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil && !errors.Is(err, context.DeadlineExceeded) {
		return nil, fmt.Errorf("lock the bench: %w", err)
	}
	if !ok {
		holder, _ := os.ReadFile(file + ".who")
		return nil, fmt.Errorf("%w: %s (%s)", ErrTaken, b.Link, strings.TrimSpace(string(holder)))
	}
	_ = os.WriteFile(file+".who", []byte(who), 0o666) // only for the other's message
	return func() {
		os.Remove(file + ".who")
		l.Close()
	}, nil
}
