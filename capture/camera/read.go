package camera

import (
	"fmt"
	"image"
	_ "image/jpeg" // photos come as these two
	_ "image/png"
	"os"
)

// photoLimit bounds a photo's pixels.
const photoLimit = 100 << 20

// ReadPhoto reads a PNG or JPEG file.
func ReadPhoto(path string) (image.Image, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("read photo: %w", err)
	}
	defer f.Close()
	c, _, err := image.DecodeConfig(f)
	if err != nil {
		return nil, fmt.Errorf("read photo %s: %w; photos are PNG or JPEG", path, err)
	}
	if c.Width*c.Height > photoLimit {
		return nil, fmt.Errorf("read photo %s: %dx%d is more than %d million px", path, c.Width, c.Height, photoLimit>>20)
	}
	if _, err := f.Seek(0, 0); err != nil {
		return nil, fmt.Errorf("read photo %s: %w", path, err)
	}
	m, _, err := image.Decode(f)
	if err != nil {
		return nil, fmt.Errorf("read photo %s: %w", path, err)
	}
	return m, nil
}
