// Package line opens what a device may be at the end of: a serial port, a TCP socket, or a program
// that is the device's end on its standard streams. What comes out is a link.Stream that outlives
// the line: a port that vanishes and returns is opened again within a stated patience.
//
// A restart of the device is not this package's business; the boot id in every reply tells.
package line

import (
	"context"
	"fmt"
	"io"
	"net"
	"net/url"
	"strconv"
	"strings"
	"time"
)

// Lines are what DTR and RTS are set to when a serial port is opened; nil leaves a line as the
// system sets it. Many boards reset, or enter boot mode, by them.
type Lines struct {
	DTR, RTS *bool
	// Reset is the line that resets the board when it is pulsed: "dtr", "rts" or "" for neither.
	Reset string
}

// Options of Open.
type Options struct {
	Lines Lines
	// Dir is where an exec: command runs.
	Dir string
	// Patience is how long a line that has gone may stay away; 10 s if zero.
	Patience time.Duration
	// Notice is told, in a sentence, when a line is lost and when it is back; may be nil. It may
	// also get what an exec: program writes to its standard error.
	Notice func(string)
}

// A Spec is a link that has been read but not opened.
type Spec struct {
	Kind string // serial, tcp or exec
	Name string // what is opened, for messages
	open func(ctx context.Context, opt Options) (io.ReadWriteCloser, error)
}

// Parse reads serial:PORT?baud=N, serial:usb=VID:PID[:SERIAL]?baud=N, tcp:HOST:PORT or exec:COMMAND.
func Parse(text string) (Spec, error) {
	kind, rest, ok := strings.Cut(text, ":")
	if !ok || strings.TrimSpace(rest) == "" {
		return Spec{}, fmt.Errorf("link %q: write serial:PORT?baud=N, tcp:HOST:PORT or exec:COMMAND", text)
	}
	s := Spec{Kind: kind, Name: rest}
	switch kind {
	case "serial":
		port, err := parseSerial(rest)
		if err != nil {
			return Spec{}, fmt.Errorf("link %q: %w", text, err)
		}
		s.Name, s.open = port.String(), port.open
	case "tcp":
		host, port, err := net.SplitHostPort(rest)
		if n, convErr := strconv.Atoi(port); err != nil || convErr != nil || n < 1 || n > 65535 {
			return Spec{}, fmt.Errorf("link %q: write tcp:HOST:PORT, with a port from 1 to 65535", text)
		}
		s.open = func(ctx context.Context, _ Options) (io.ReadWriteCloser, error) {
			// Go sets TCP_NODELAY by itself: without it an exchange with an emulator takes 44 ms.
			d := net.Dialer{Timeout: 5 * time.Second}
			return d.DialContext(ctx, "tcp", net.JoinHostPort(host, port))
		}
	case "exec":
		s.open = func(_ context.Context, opt Options) (io.ReadWriteCloser, error) { return start(rest, opt) }
	default:
		return Spec{}, fmt.Errorf("link %q: unknown kind %q; it is one of serial, tcp, exec, twin, dump", text, kind)
	}
	return s, nil
}

// splitQuery parts what stands after a question mark and refuses names that are not known.
func splitQuery(text string, known ...string) (string, url.Values, error) {
	rest, query, _ := strings.Cut(text, "?")
	v, err := url.ParseQuery(query)
	if err != nil {
		return "", nil, fmt.Errorf("read what follows the question mark: %w", err)
	}
next:
	for name, values := range v {
		if len(values) != 1 {
			return "", nil, fmt.Errorf("%s stands %d times", name, len(values))
		}
		for _, k := range known {
			if name == k {
				continue next
			}
		}
		return "", nil, fmt.Errorf("unknown setting %q; it is one of %s", name, strings.Join(known, ", "))
	}
	return rest, v, nil
}

// Open opens the line. The first opening must succeed at once; later ones have Options.Patience.
func (s Spec) Open(ctx context.Context, opt Options) (*Stream, error) {
	if opt.Patience == 0 {
		opt.Patience = 10 * time.Second
	}
	if opt.Notice == nil {
		opt.Notice = func(string) {}
	}
	rw, err := s.open(ctx, opt)
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", s.Name, err)
	}
	return newStream(s, opt, rw), nil
}

// Open is Parse and Spec.Open.
func Open(ctx context.Context, text string, opt Options) (*Stream, error) {
	s, err := Parse(text)
	if err != nil {
		return nil, err
	}
	return s.Open(ctx, opt)
}
