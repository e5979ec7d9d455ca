//go:build camera

package camera

import (
	"context"
	"errors"
	"image"
	"net/http/httptest"
	"path/filepath"
	"testing"

	"gocv.io/x/gocv"

	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
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

// TestOpenCVReadsAStream: the simulated camera's MJPEG through OpenCV, which is how RTSP and all other streams come in.
func TestOpenCVReadsAStream(t *testing.T) {
	r := simcam.Random(1, simcam.Good, 64, 48)
	r.PhotoWidth, r.PhotoHeight, r.Focal = 320, 240, 260
	r.OffX, r.OffY = 0, 0
	c := simcam.New(r, 1)
	panel := make(chan image.Image, 1)
	panel <- grey(64, 48, 0)
	server := httptest.NewServer(c.Handler(func() (image.Image, simcam.Shot) { m := <-panel; panel <- m; return m, simcam.Shot{} }, 95))
	defer server.Close()
	s, err := Open("opencv:"+server.URL+"/photo.mjpg", Options{Average: 2, Drop: 1})
	if err != nil {
		t.Fatal(err)
	}
	var seen [4]uint8
	for i := range seen {
		<-panel
		panel <- grey(64, 48, uint8(i%2*255))
		m, err := s.Photo(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		seen[i] = level(m)
	}
	if seen[0] > 60 || seen[2] > 60 || seen[1] < 120 || seen[3] < 120 {
		t.Errorf("black, white, black, white are seen as %v", seen)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}
