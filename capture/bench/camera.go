package bench

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/capture/bench/yamlfile"
	"github.com/fascia-bench/fascia/capture/camera"
	"github.com/fascia-bench/fascia/capture/link"
)

// A Camera is the bench's camera: where its photos come from, how they are taken and judged, and what
// aligning it has found.
type Camera struct {
	Source     string // see camera.Open; paths are relative to the bench's folder
	Options    camera.Options
	FalseAlarm float64 // chance that an unchanged look is said to differ, over the whole panel; 0: the comparison's own
	Golden     string  // what looks' photos are held against: "dump", or "photo", an earlier photo that was approved
	Keep       string  // which looks' rectified photos a run keeps: "differing", or "all"
	Lamps      map[string]Spot
	Aligned    *Aligned // nil until fascia bench align

	dir string
	at  yamlfile.Place
}

// A Spot is a round place in the photo, in photo pixels: where a lamp is.
type Spot struct{ X, Y, Radius float64 }

// Aligned is what fascia bench align wrote. The figures in bench.yaml are for people to read; what counts
// is the file of optics beside it, which the hash ties to them.
type Aligned struct {
	Photo, Panel [2]int // width, height
	Optics       string // file name, in the folder of bench.yaml
	SHA256       string
}

// ErrNotAligned means that a bench's camera has not measured its panel yet.
var ErrNotAligned = errors.New("the bench's camera is not aligned: run fascia bench align")

// CameraOf reads the camera of a bench.yaml and nothing else of it, for work with photos that needs no
// device. A file without a camera gives ErrNotAligned.
func CameraOf(path string) (*Camera, error) {
	root, err := yamlfile.Read(path)
	if err != nil {
		return nil, err
	}
	pairs, err := root.Map()
	if err != nil {
		return nil, err
	}
	for _, p := range pairs {
		if p.Key.Text() == "camera" {
			return readCamera(p.Value, filepath.Dir(path))
		}
	}
	return nil, fmt.Errorf("%s: %w", path, ErrNotAligned)
}

func readCamera(n yamlfile.Node, dir string) (*Camera, error) {
	c := &Camera{Golden: "dump", Keep: "differing", Lamps: map[string]Spot{}, dir: dir, at: n.Place()}
	number := func(to *float64, lo, hi float64) func(yamlfile.Node) error {
		return func(n yamlfile.Node) (err error) { *to, err = n.Float(lo, hi); return err }
	}
	err := n.Fields(map[string]func(yamlfile.Node) error{
		"source": func(n yamlfile.Node) (err error) {
			if c.Source, err = n.Scalar(); err == nil && strings.TrimSpace(c.Source) == "" {
				err = n.Errorf("source is empty")
			}
			return err
		},
		"average": func(n yamlfile.Node) (err error) { c.Options.Average, err = n.Int(1, 64); return err },
		"drop": func(n yamlfile.Node) (err error) {
			if c.Options.Drop, err = n.Int(0, 100); c.Options.Drop == 0 {
				c.Options.Drop = -1 // none, where 0 would mean the usual
			}
			return err
		},
		"timeout": func(n yamlfile.Node) (err error) {
			c.Options.Timeout, err = n.Duration(100*time.Millisecond, 10*time.Minute)
			return err
		},
		"exposure": number(&c.Options.Exposure, -1e6, 1e6), // drivers count in units of their own, some in powers of two
		"gain":     number(&c.Options.Gain, 0, 1e6),
		"white":    number(&c.Options.White, 0, 1e6),
		"focus":    number(&c.Options.Focus, 0, 1e6),
		"false-alarm": func(n yamlfile.Node) error {
			if err := number(&c.FalseAlarm, 0, 1)(n); err != nil {
				return err
			}
			if c.FalseAlarm == 0 || c.FalseAlarm == 1 {
				return n.Errorf("the chance of a false alarm lies between 0 and 1, such as 0.0001")
			}
			return nil
		},
		"golden": func(n yamlfile.Node) (err error) {
			if c.Golden, err = n.Scalar(); err == nil && c.Golden != "dump" && c.Golden != "photo" {
				err = n.Errorf("golden is dump or photo, not %q: fascia bench align says which is better on this bench", c.Golden)
			}
			return err
		},
		"keep": func(n yamlfile.Node) (err error) {
			if c.Keep, err = n.Scalar(); err == nil && c.Keep != "differing" && c.Keep != "all" {
				err = n.Errorf("keep is differing or all, not %q: which looks' photos a run keeps for fascia between", c.Keep)
			}
			return err
		},
		"lamps":   c.readLamps,
		"aligned": c.readAligned,
	})
	return c, err
}

func (c *Camera) readLamps(n yamlfile.Node) error {
	pairs, err := n.Map()
	if err != nil {
		return err
	}
	for _, p := range pairs {
		items, err := p.Value.List()
		if err != nil {
			return err
		}
		if len(items) != 3 {
			return p.Value.Errorf("a lamp is [x, y, radius] in photo pixels, not %d numbers", len(items))
		}
		var v [3]float64
		for i, item := range items {
			if v[i], err = item.Float([3]float64{0, 0, 1}[i], 16384); err != nil {
				return err
			}
		}
		c.Lamps[p.Key.Text()] = Spot{v[0], v[1], v[2]}
	}
	return nil
}

func (c *Camera) readAligned(n yamlfile.Node) error {
	a := &Aligned{}
	size := func(to *[2]int) func(yamlfile.Node) error {
		return func(n yamlfile.Node) error {
			v, err := n.Ints(8, 16384, "width", "height")
			if err == nil {
				*to = [2]int{v[0], v[1]}
			}
			return err
		}
	}
	figure := func(n yamlfile.Node) error { _, err := n.Float(-1e9, 1e9); return err }
	figures := func(names ...string) func(yamlfile.Node) error {
		set := map[string]func(yamlfile.Node) error{}
		for _, name := range names {
			set[name] = figure
		}
		return func(n yamlfile.Node) error { return n.Fields(set) }
	}
	err := n.Fields(map[string]func(yamlfile.Node) error{
		"photo": size(&a.Photo), "panel": size(&a.Panel),
		"plane": func(n yamlfile.Node) error {
			items, err := n.List()
			if err == nil && len(items) != 8 {
				err = n.Errorf("a plane has 8 numbers, not %d", len(items))
			}
			for _, item := range items {
				err = errors.Join(err, figure(item))
			}
			return err
		},
		"lens": figures("k1", "k2", "p1", "p2", "k3"), "residual": figure, "ratio": figure,
		"curve": figures("gamma", "offset", "toe"), // toe is of optics 1, which ask to be aligned again
		"bands": figures("period", "share"), "sees": figures("dump", "photo"),
		"optics": func(n yamlfile.Node) error {
			return n.Fields(map[string]func(yamlfile.Node) error{
				"file": func(n yamlfile.Node) (err error) {
					if a.Optics, err = n.Scalar(); err == nil && (a.Optics != filepath.Base(a.Optics) || strings.ContainsAny(a.Optics, `/\`)) {
						err = n.Errorf("%q: the file of optics stands beside bench.yaml", a.Optics)
					}
					return err
				},
				"sha256": func(n yamlfile.Node) (err error) {
					if a.SHA256, err = n.Scalar(); err == nil && (len(a.SHA256) != 64 || strings.Trim(a.SHA256, "0123456789abcdef") != "") {
						err = n.Errorf("a SHA-256 is 64 hexadecimal digits")
					}
					return err
				},
			})
		},
	})
	if err != nil {
		return err
	}
	if a.Photo[0] == 0 || a.Panel[0] == 0 || a.Optics == "" || a.SHA256 == "" {
		return n.Errorf("aligned needs photo, panel and optics: {file, sha256}; fascia bench align writes them")
	}
	c.Aligned = a
	return nil
}

// OpticsFile is the path of the file of optics. It gives ErrNotAligned if there is none.
func (c *Camera) OpticsFile() (string, error) {
	if c.Aligned == nil {
		return "", c.Errorf("%v", ErrNotAligned)
	}
	return filepath.Join(c.dir, c.Aligned.Optics), nil
}

// Open opens the camera's source of photos.
func (c *Camera) Open() (*camera.Source, error) {
	if c.Source == "" {
		return nil, c.Errorf("the camera has no source: write source: /dev/video0, http://…, or a folder of photos")
	}
	s, err := camera.Open(camera.In(c.dir, c.Source), c.Options)
	if err != nil {
		if !c.at.Valid() {
			return nil, err
		}
		return nil, c.Errorf("%v", err)
	}
	return s, nil
}

// Fits holds the camera against the panel that the device says it has.
func (c *Camera) Fits(h link.Hello) error {
	if c.Aligned == nil {
		return c.Errorf("%v", ErrNotAligned)
	}
	if p := c.Aligned.Panel; p != [2]int{h.Width, h.Height} {
		return c.Errorf("the camera is aligned for a panel of %dx%d, the device says %dx%d: is it another bench's file? Run fascia bench align", p[0], p[1], h.Width, h.Height)
	}
	return nil
}

// Errorf points at the camera in the bench's file.
func (c *Camera) Errorf(format string, args ...any) error {
	if !c.at.Valid() { // a camera that no file has
		return fmt.Errorf(format, args...)
	}
	return c.at.Errorf(format, args...)
}
