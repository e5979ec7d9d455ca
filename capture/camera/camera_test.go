package camera

import (
	"context"
	"errors"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/capturetest/simcam"
)

func grey(w, h int, v uint8) *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(m, m.Bounds(), image.NewUniform(color.Gray{v}), image.Point{}, draw.Src)
	return m
}

func save(t *testing.T, path string, m image.Image) {
	t.Helper()
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(png.Encode(f, m), f.Close()); err != nil {
		t.Fatal(err)
	}
}

func level(m image.Image) uint8 {
	b := m.Bounds()
	return color.GrayModel.Convert(m.At(b.Min.X+b.Dx()/2, b.Min.Y+b.Dy()/2)).(color.Gray).Y
}

// script hands on frames of stated levels, then the end.
type script []uint8

func (s *script) ready(context.Context) ([]string, error) { return nil, nil }
func (s *script) rest()                                   {}
func (s *script) close() error                            { return nil }
func (s *script) next(context.Context) (image.Image, string, error) {
	if len(*s) == 0 {
		return nil, "", io.EOF
	}
	v := (*s)[0]
	*s = (*s)[1:]
	return grey(8, 8, v), "", nil
}

func TestFirstFramesAreDroppedAndTheNextAveraged(t *testing.T) {
	from := &script{9, 9, 9, 100, 101, 102, 104, 50}
	s := &Source{name: "script", from: from, options: Options{}.withDefaults()}
	m, err := s.Photo(context.Background())
	if err != nil || level(m) != 102 { // the mean is 101.75
		t.Fatalf("level %d, %v", level(m), err)
	}
	if _, err := s.Photo(context.Background()); !errors.Is(err, io.EOF) {
		t.Errorf("too few frames: %v", err)
	}
}

func TestAFrameOfAnotherSizeIsAnError(t *testing.T) {
	var a mean
	if err := a.add(grey(8, 8, 1)); err != nil {
		t.Fatal(err)
	}
	if err := a.add(grey(8, 9, 1)); err == nil {
		t.Error("a frame of another size was averaged")
	}
}

func TestFolderHandsOnEachPhotoOnce(t *testing.T) {
	dir := t.TempDir()
	save(t, filepath.Join(dir, "b.png"), grey(8, 8, 20))
	save(t, filepath.Join(dir, "a.png"), grey(8, 8, 10))
	if err := os.WriteFile(filepath.Join(dir, "notes.txt"), []byte("no photo"), 0o644); err != nil {
		t.Fatal(err)
	}
	s, err := Open(dir, Options{Timeout: 300 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []uint8{10, 20} {
		if m, err := s.Photo(context.Background()); err != nil || level(m) != want {
			t.Fatalf("want %d: %v", want, err)
		}
	}
	if _, err := s.Photo(context.Background()); !errors.Is(err, ErrNoPhoto) {
		t.Errorf("no third photo: %v", err)
	}
}

func TestFile(t *testing.T) {
	path := filepath.Join(t.TempDir(), "p.png")
	save(t, path, grey(8, 8, 77))
	s, err := Open(path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if m, err := s.Photo(context.Background()); err != nil || level(m) != 77 {
		t.Errorf("%v", err)
	}
	if err := os.WriteFile(path, []byte("not a picture"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Photo(context.Background()); err == nil {
		t.Error("text passes for a photo")
	}
	if _, err := Open(filepath.Join(t.TempDir(), "none.png"), Options{}); err == nil {
		t.Error("a missing file opens")
	}
}

// TestStreamFollowsThePanel: a photo that is asked for after the panel changed must not show what was before.
func TestStreamFollowsThePanel(t *testing.T) {
	r := simcam.Random(1, simcam.Good, 64, 48)
	r.PhotoWidth, r.PhotoHeight, r.Focal = 320, 240, 260
	r.OffX, r.OffY = 0, 0
	c := simcam.New(r, 1)
	panel := make(chan image.Image, 1)
	panel <- grey(64, 48, 0)
	server := httptest.NewServer(c.Handler(func() (image.Image, simcam.Shot) { m := <-panel; panel <- m; return m, simcam.Shot{} }, 95))
	defer server.Close()
	s, err := Open(server.URL, Options{Average: 2, Drop: 1})
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}()
	var seen [4]uint8
	for i := range seen {
		<-panel
		panel <- grey(64, 48, uint8(i%2*255))
		m, err := s.Photo(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		if m.Bounds().Dx() != 320 {
			t.Fatalf("photo of %v", m.Bounds())
		}
		seen[i] = level(m)
	}
	if seen[0] > 60 || seen[2] > 60 || seen[1] < 120 || seen[3] < 120 {
		t.Errorf("black, white, black, white are seen as %v", seen)
	}
	if len(s.Warnings) == 0 {
		t.Error("nothing is said of controls that can't be locked")
	}
}

func TestStreamsThatAreNone(t *testing.T) {
	page := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html")
	}))
	defer page.Close()
	silent := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "multipart/x-mixed-replace; boundary=x")
		w.WriteHeader(http.StatusOK)
		w.(http.Flusher).Flush()
		<-r.Context().Done()
	}))
	defer silent.Close()
	ended := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "multipart/x-mixed-replace; boundary=x")
		_, _ = io.WriteString(w, "--x\r\nContent-Type: image/jpeg\r\n\r\nnot a jpeg\r\n--x--\r\n")
	}))
	defer ended.Close()
	for name, url := range map[string]string{"a page": page.URL, "silence": silent.URL, "no jpeg": ended.URL, "nobody": "http://127.0.0.1:1/"} {
		s, err := Open(url, Options{Timeout: 500 * time.Millisecond})
		if err != nil {
			t.Fatal(err)
		}
		_, err = s.Photo(context.Background())
		if err == nil || name == "silence" && !errors.Is(err, ErrNoPhoto) {
			t.Errorf("%s: %v", name, err)
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
}
