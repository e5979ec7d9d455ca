// Package bench reads bench.yaml, which describes one device and how to reach it, and opens the
// link that is written there.
package bench

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/bench/yamlfile"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/link/line"
)

// A Bench is one device with its link, as bench.yaml has it.
type Bench struct {
	// File is bench.yaml, Dir its folder: the paths in it are relative to that.
	File, Dir string
	Name      string
	Target    string // whose goldens it shares
	Link      string
	Panel     *Panel // nil: the device says

	Lines    line.Lines // of a serial port, on opening
	Before   string     // host command before a run
	PowerOff string     // host commands that take the device's power and give it back
	PowerOn  string
	Build    string   // host command whose output the device's build must be
	Restarts []string // patterns of log lines that mean the firmware died; * stands for any text
	// Return is a file of steps that bring the device back to where walks start without a reset, for
	// walks that are toured; "" if there is none.
	Return string
	// Hands is a file of what a person does on a twin when a walk asks for a hand; "" if there is none.
	Hands string
	// Commands are all that a walk's exec may call, by name.
	Commands map[string]string
	Camera   *Camera // nil: looks are taken over the link

	at map[string]yamlfile.Place // where a setting stands, for errors
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
		return nil, fmt.Errorf("there is no %s: a bench is described by a bench.yaml, and fascia init writes one", path)
	}
	if err != nil {
		return nil, err
	}
	b := &Bench{File: path, Dir: filepath.Dir(path), Commands: map[string]string{}, at: map[string]yamlfile.Place{}}
	err = root.Fields(map[string]func(yamlfile.Node) error{
		"bench":    b.text("bench", &b.Name),
		"target":   b.text("target", &b.Target),
		"device":   b.readDevice,
		"panel":    b.readPanel,
		"commands": b.readCommands,
		"return":   b.text("return", &b.Return),
		"hands":    b.text("hands", &b.Hands),
		"camera":   func(n yamlfile.Node) (err error) { b.Camera, err = readCamera(n, b.Dir); return err },
	})
	if err != nil {
		return nil, err
	}
	for _, need := range []struct{ name, value string }{{"bench", b.Name}, {"target", b.Target}} {
		if need.value == "" {
			return nil, root.Errorf("the bench has no %s: write %s: NAME", need.name, need.name)
		}
	}
	if b.Link == "" {
		return nil, root.Errorf("the bench has no link: write device: {link: …}, for example serial:/dev/ttyUSB0 or twin:ui.wasm")
	}
	return b, nil
}

// text reads a setting that is one value, and remembers where it stands.
func (b *Bench) text(name string, to *string) func(yamlfile.Node) error {
	return func(n yamlfile.Node) (err error) {
		b.at[name] = n.Place()
		*to, err = n.Scalar()
		if err == nil && strings.TrimSpace(*to) == "" {
			err = n.Errorf("%s is empty", name)
		}
		return err
	}
}

func (b *Bench) readDevice(n yamlfile.Node) error {
	return n.Fields(map[string]func(yamlfile.Node) error{
		"link":   b.text("link", &b.Link),
		"before": b.text("before", &b.Before),
		"lines":  b.readLines,
		"power": func(n yamlfile.Node) error {
			err := n.Fields(map[string]func(yamlfile.Node) error{
				"off": b.text("power off", &b.PowerOff),
				"on":  b.text("power on", &b.PowerOn),
			})
			if err == nil && (b.PowerOff == "" || b.PowerOn == "") {
				err = n.Errorf("power needs off and on, a command each")
			}
			return err
		},
		"expect": func(n yamlfile.Node) error {
			return n.Fields(map[string]func(yamlfile.Node) error{"build": b.text("build", &b.Build)})
		},
		"restarts": func(n yamlfile.Node) error {
			items, err := n.List()
			if err != nil {
				return err
			}
			for _, item := range items {
				text, err := item.Scalar()
				if err != nil {
					return err
				}
				if strings.Trim(text, "* ") == "" {
					return item.Errorf("a pattern needs some text of the line")
				}
				b.Restarts = append(b.Restarts, text)
			}
			return nil
		},
	})
}

func (b *Bench) readLines(n yamlfile.Node) error {
	b.at["lines"] = n.Place()
	state := func(to **bool) func(yamlfile.Node) error {
		return func(n yamlfile.Node) error {
			on := n.Text() == "on" || n.Text() == "true"
			if !on && n.Text() != "off" && n.Text() != "false" {
				return n.Errorf("expected on or off, found %q", n.Text())
			}
			*to = &on
			return nil
		}
	}
	return n.Fields(map[string]func(yamlfile.Node) error{
		"open": func(n yamlfile.Node) error {
			return n.Fields(map[string]func(yamlfile.Node) error{"dtr": state(&b.Lines.DTR), "rts": state(&b.Lines.RTS)})
		},
		"reset": func(n yamlfile.Node) error {
			if b.Lines.Reset = n.Text(); b.Lines.Reset != "dtr" && b.Lines.Reset != "rts" {
				return n.Errorf("a board is reset by dtr or rts, not by %q", n.Text())
			}
			return nil
		},
	})
}

func (b *Bench) readCommands(n yamlfile.Node) error {
	pairs, err := n.Map()
	if err != nil {
		return err
	}
	for _, p := range pairs {
		text, err := p.Value.Scalar()
		if err != nil {
			return err
		}
		b.Commands[p.Key.Text()] = text
	}
	return nil
}

func (b *Bench) readPanel(n yamlfile.Node) error {
	b.at["panel"] = n.Place()
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

// errorAt points at a setting, where it stands in a file.
func (b *Bench) errorAt(setting, format string, args ...any) error {
	if n, ok := b.at[setting]; ok {
		return n.Errorf(format, args...)
	}
	return fmt.Errorf(format, args...)
}

// OnLink is a bench that consists of a link alone, for a quick look at what answers there.
func OnLink(text string) *Bench {
	return &Bench{File: "(no file)", Dir: ".", Name: "unnamed", Target: "unnamed", Link: text}
}
