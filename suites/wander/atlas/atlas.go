// Package atlas is the map of screens that wandering leaves: a leaf, read by whoever shows what of a
// device's user interface has been seen.
//
// A map is a folder with map.json and a picture of each screen. A screen is a cluster of pictures that
// are alike (Alike); its first picture stands for it.
package atlas

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/fascia-bench/fascia/capture/picture/whole"
)

// File is the map's name in its folder, and Version that of its format.
const (
	File    = "map.json"
	Version = 1
)

// A Map is map.json.
type Map struct {
	Wander   int       `json:"wander"` // Version
	Seed     uint64    `json:"seed"`
	Steps    int       `json:"steps"` // inputs given, without those of replays
	Target   string    `json:"target"`
	Device   string    `json:"device"`
	Build    string    `json:"build"`
	Firmware string    `json:"firmware"`
	Library  string    `json:"library"`
	Panel    Panel     `json:"panel"`
	Screens  []Screen  `json:"screens"`
	Ways     []Way     `json:"ways"`
	Findings []Finding `json:"findings"`
}

// A Panel is what the device shows its screens on.
type Panel struct {
	Width  int    `json:"width"`
	Height int    `json:"height"`
	Format string `json:"format"`
}

// A Screen is a cluster of pictures that are alike.
type Screen struct {
	Screen  string `json:"screen"`  // stable within this map
	Picture string `json:"picture"` // a PNG beside the map: the first picture seen of it
	Pixels  string `json:"pixels"`  // SHA-256 of its pixels, as goldens and records have it
	// Name is how the firmware calls the screen in its log, if it does.
	Name string `json:"name,omitempty"`
	Seen int    `json:"seen"` // times
	// Pictures is how many distinct pictures of it there were; Others are the hashes of some besides Pixels.
	Pictures int      `json:"pictures"`
	Others   []string `json:"others,omitempty"`
	More     []string `json:"more,omitempty"`    // PNGs beside the map: pictures of it that differ much from the first
	Targets  []Target `json:"targets,omitempty"` // as the firmware listed them when the picture was seen
	Road     []string `json:"road"`              // the shortest known inputs from reset, in words
}

// A Target is something to touch, in panel pixels.
type Target struct {
	Name string `json:"name"`
	X    int    `json:"x"`
	Y    int    `json:"y"`
	W    int    `json:"w"`
	H    int    `json:"h"`
}

// A Way is an input that led from one screen to another.
type Way struct {
	From  string `json:"from"`
	By    string `json:"by"`
	To    string `json:"to"`
	Times int    `json:"times"`
}

// A Finding is a fault that needed no golden to be seen.
type Finding struct {
	Kind   string `json:"kind"` // redraw, restart, hang, unsettled, leak or road
	Says   string `json:"says"`
	Screen string `json:"screen"`
	// Walk is the file, beside the map, of the shortest walk found that shows it, and Steps its inputs; "" where
	// it could not be brought about again from a reset.
	Walk  string `json:"walk,omitempty"`
	Steps int    `json:"steps"`
}

// Load reads a map. path is its file or its folder.
func Load(path string) (*Map, string, error) {
	if info, err := os.Stat(path); err == nil && info.IsDir() {
		path = filepath.Join(path, File)
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, "", fmt.Errorf("read a map of screens: %w", err)
	}
	var m Map
	if err := json.Unmarshal(text, &m); err != nil {
		return nil, "", fmt.Errorf("%s is no map of screens: %w", path, err)
	}
	if m.Wander != Version {
		return nil, "", fmt.Errorf("%s is a map of version %d, and this program reads version %d", path, m.Wander, Version)
	}
	dir := filepath.Dir(path)
	for _, s := range m.Screens {
		if s.Picture == "" || strings.ContainsAny(s.Picture, `/\`) {
			return nil, "", fmt.Errorf("%s: the picture of screen %s is %q: it must stand beside the map", path, s.Screen, s.Picture)
		}
	}
	return &m, dir, nil
}

// Save writes map.json into a folder, whole or not at all.
func (m *Map) Save(dir string) error {
	text, err := json.MarshalIndent(m, "", " ")
	if err == nil {
		err = whole.Write(filepath.Join(dir, File), append(text, '\n'))
	}
	if err != nil {
		return fmt.Errorf("write the map of screens: %w", err)
	}
	return nil
}
