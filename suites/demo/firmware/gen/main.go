// Command gen writes the alpha bitmaps of the drawing layer: the faces (font_*.c) and the
// icons (icon_data.c, icons.h). Run it from the firmware folder:
//
//	go run ./gen
//
// Its output is committed, so that building the firmware needs a C compiler alone.
package main

import (
	"fmt"
	"os"
	"path/filepath"
)

func main() {
	dir := "draw"
	if len(os.Args) > 1 {
		dir = os.Args[1]
	}
	if err := run(dir); err != nil {
		fmt.Fprintln(os.Stderr, "gen: error:", err)
		os.Exit(2)
	}
}

func run(dir string) error {
	for _, f := range faces {
		src, err := f.source()
		if err != nil {
			return fmt.Errorf("render face %q: %w", f.name, err)
		}
		if err := os.WriteFile(filepath.Join(dir, "font_"+f.name+".c"), src, 0o644); err != nil {
			return err
		}
	}
	header, data := iconSources()
	if err := os.WriteFile(filepath.Join(dir, "icons.h"), header, 0o644); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, "icon_data.c"), data, 0o644)
}

// pack puts two 4-bit alphas into a byte, the left one in the low half.
func pack(alpha []uint8) []byte {
	out := make([]byte, (len(alpha)+1)/2)
	for i, a := range alpha {
		out[i/2] |= a << (4 * (i % 2))
	}
	return out
}
