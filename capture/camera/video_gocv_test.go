//go:build camera

package camera

import (
	"context"
	"errors"
	"path/filepath"
	"testing"

	"gocv.io/x/gocv"
)

// TestVideoFile writes a film of rising grey with OpenCV and takes photos from it until it ends.
func TestVideoFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "film.avi")
	w, err := gocv.VideoWriterFile(path, "MJPG", 25, 64, 48, true)
	if err != nil {
		t.Fatal(err)
	}
	for i := range 8 {
		m, err := gocv.ImageToMatRGB(grey(64, 48, uint8(20*i)))
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(w.Write(m), m.Close()); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	s, err := Open(path, Options{Average: 2, Drop: 1})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []uint8{30, 90} { // frames 1 and 2, then 4 and 5
		m, err := s.Photo(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		if got := level(m); got < want-3 || got > want+3 {
			t.Errorf("level %d, want %d", got, want)
		}
	}
	if _, err := s.Photo(context.Background()); !errors.Is(err, ErrNoPhoto) {
		t.Errorf("after the end: %v", err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

func TestNoSuchDevice(t *testing.T) {
	if s, err := Open("97", Options{}); err == nil {
		t.Errorf("a device that is not there opens: %v", s)
	}
}
