// Package bench reads bench.yaml, which describes one device and how to reach it, and opens the
// link that is written there.
package bench

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/bench/yamlfile"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/twin"
)

// A Bench is one device with its link, as bench.yaml has it.
type Bench struct {
	// File is bench.yaml, Dir its folder: the paths in it are relative to that.
	File, Dir string
	Name      string
	Target    string // whose goldens it shares
	Link      string
	Panel     *Panel // nil: the device says

	at map[string]yamlfile.Node // where a setting stands, for errors
}

// A Panel is what the device's panel is meant to be.
type Panel struct {
	Width, Height int
	Format        capture.Format
}

func (p Panel) String() string { return fmt.Sprintf("%dx%d %v", p.Width, p.Height, p.Format) }

// Read reads a bench.yaml.
func Read(path string) (*Bench, error) {
	root, err := yamlfile.Read(path)
	if errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("there is no %s: a bench is described by a bench.yaml", path)
	}
	if err != nil {
		return nil, err
	}
	b := &Bench{File: path, Dir: filepath.Dir(path), at: map[string]yamlfile.Node{}}
	text := func(name string, to *string) func(yamlfile.Node) error {
		return func(n yamlfile.Node) (err error) {
			b.at[name] = n
			*to, err = n.Scalar()
			if err == nil && strings.TrimSpace(*to) == "" {
				err = n.Errorf("%s is empty", name)
			}
			return err
		}
	}
	err = root.Fields(map[string]func(yamlfile.Node) error{
		"bench":  text("bench", &b.Name),
		"target": text("target", &b.Target),
		"device": func(n yamlfile.Node) error {
			return n.Fields(map[string]func(yamlfile.Node) error{"link": text("link", &b.Link)})
		},
		"panel": b.readPanel,
	})
	if err != nil {
		return nil, err
	}
	for name, value := range map[string]string{"bench": b.Name, "target": b.Target, "link": b.Link} {
		if value != "" {
			continue
		}
		if name == "link" {
			return nil, root.Errorf("the bench has no link: write device: {link: …}, for example twin:ui.wasm")
		}
		return nil, root.Errorf("the bench has no %s: write %s: NAME", name, name)
	}
	return b, nil
}

func (b *Bench) readPanel(n yamlfile.Node) error {
	b.at["panel"] = n
	p := &Panel{}
	side := func(to *int) func(yamlfile.Node) error {
		return func(n yamlfile.Node) (err error) {
			*to, err = n.Int(1, link.MaxSide)
			return err
		}
	}
	err := n.Fields(map[string]func(yamlfile.Node) error{
		"width":  side(&p.Width),
		"height": side(&p.Height),
		"format": func(n yamlfile.Node) error {
			f, err := capture.ParseFormat(n.Text())
			if err != nil {
				return n.Errorf("%v", err)
			}
			p.Format = f
			return nil
		},
	})
	if err != nil {
		return err
	}
	if p.Width == 0 || p.Height == 0 || p.Format == 0 {
		return n.Errorf("a panel needs width, height and format")
	}
	b.Panel = p
	return nil
}

// BuiltIn is the device that `twin:` without a file means. It is handed in by the command, so that
// this package knows no demo.
type BuiltIn []byte

// Open opens the bench's link and says hello. It refuses a device whose panel is not the one
// written in the bench's file.
func (b *Bench) Open(ctx context.Context, builtIn BuiltIn, opt link.Options) (*link.Conn, error) {
	s, err := b.stream(ctx, builtIn)
	if err != nil {
		return nil, b.errorAt("link", "%v", err)
	}
	c, err := link.Dial(ctx, s, opt)
	if err != nil {
		s.Close()
		return nil, b.errorAt("link", "%v", err)
	}
	h := c.Hello()
	if says := (Panel{h.Width, h.Height, h.Format}); b.Panel != nil && *b.Panel != says {
		c.Close()
		return nil, b.errorAt("panel", "the device says its panel is %v, this file says %v", says, *b.Panel)
	}
	return c, nil
}

// errorAt points at a setting, where it stands in a file.
func (b *Bench) errorAt(setting, format string, args ...any) error {
	if n, ok := b.at[setting]; ok {
		return n.Errorf(format, args...)
	}
	return fmt.Errorf(format, args...)
}

func (b *Bench) stream(ctx context.Context, builtIn BuiltIn) (link.Stream, error) {
	kind, rest, ok := strings.Cut(b.Link, ":")
	if !ok || kind != "twin" {
		return nil, fmt.Errorf("the link %q is of no kind that this version speaks: twin:FILE.wasm, or twin: for the built-in device", b.Link)
	}
	wasm := []byte(builtIn)
	if rest != "" {
		var err error
		if wasm, err = os.ReadFile(filepath.Join(b.Dir, filepath.FromSlash(rest))); err != nil {
			return nil, fmt.Errorf("open the twin: %w", err)
		}
	}
	p, err := twin.Load(ctx, wasm)
	if err != nil {
		return nil, err
	}
	t, err := p.Boot()
	if err != nil {
		p.Close()
		return nil, err
	}
	return ownedTwin{t, p}, nil
}

// ownedTwin closes its program with it.
type ownedTwin struct {
	*twin.Twin
	program *twin.Program
}

func (t ownedTwin) Close() error {
	return errors.Join(t.Twin.Close(), t.program.Close())
}

// Demo is the bench of the built-in device, for where there is no bench.yaml.
func Demo() *Bench {
	return &Bench{File: "(built in)", Dir: ".", Name: "built-in", Target: "built-in", Link: "twin:"}
}
