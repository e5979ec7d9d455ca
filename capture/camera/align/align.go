// Package align learns a bench's camera from photos of its patterns, and keeps what was learnt beside bench.yaml.
//
// With a live bench the device shows the patterns over the link (Live); without, they are files, and there is a
// folder with one photo of each. What is learnt is compare/photo's; here it is fetched and kept.
package align

import (
	"fmt"
	"image"
	"os"
	"path/filepath"
	"sort"
	"strings"

	"github.com/fascia-bench/fascia/capture/camera"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare/photo"
)

// WritePatterns writes the patterns of a panel as PNG files into a folder, in the order they are to be
// shown and photographed, and returns their paths.
func WritePatterns(width, height int, dir string) ([]string, error) {
	if err := checkPanel(width, height); err != nil {
		return nil, err
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("make the folder for patterns: %w", err)
	}
	var out []string
	for _, p := range photo.Patterns(width, height) {
		path := filepath.Join(dir, p.Name+".png")
		if err := picture.WritePNG(path, p.Image); err != nil {
			return out, err
		}
		out = append(out, path)
	}
	return out, nil
}

func checkPanel(width, height int) error {
	if width < 96 || height < 96 || width > 2048 || height > 2048 {
		return fmt.Errorf("a panel of %dx%d: a camera is aligned on panels of 96 to 2048 px a side", width, height)
	}
	return nil
}

// Photos reads a folder with one photo of each pattern, PNG or JPEG, and returns both. Photos are told by the patterns' names;
// where no name fits, by the order of their own names.
func Photos(width, height int, dir string) ([]photo.Pattern, []image.Image, error) {
	if err := checkPanel(width, height); err != nil {
		return nil, nil, err
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, nil, fmt.Errorf("read photos: %w", err)
	}
	byStem := map[string]string{}
	var order []string
	for _, e := range entries {
		ext := strings.ToLower(filepath.Ext(e.Name()))
		if e.IsDir() || ext != ".png" && ext != ".jpg" && ext != ".jpeg" || strings.HasSuffix(e.Name(), shownSuffix) {
			continue
		}
		order = append(order, e.Name())
		byStem[strings.TrimSuffix(e.Name(), filepath.Ext(e.Name()))] = e.Name()
	}
	sort.Strings(order)
	patterns := photo.Patterns(width, height)
	own, err := readShown(patterns, dir)
	if err != nil {
		return nil, nil, err
	}
	patterns = photo.Patterns(width, height, own...)
	named := 0
	for _, p := range patterns {
		if byStem[p.Name] != "" {
			named++
		}
	}
	if named == 0 && len(order) != len(patterns) {
		return nil, nil, fmt.Errorf("%s holds %d photos, and there are %d patterns: one photo of each is needed, named as the pattern or in the same order", dir, len(order), len(patterns))
	}
	shots := make([]image.Image, len(patterns))
	for i, p := range patterns {
		name := byStem[p.Name]
		if named == 0 {
			name = order[i]
		}
		if name == "" {
			return nil, nil, fmt.Errorf("%s has no photo of pattern %s", dir, p.Name)
		}
		if shots[i], err = camera.ReadPhoto(filepath.Join(dir, name)); err != nil {
			return nil, nil, err
		}
	}
	return patterns, shots, nil
}
