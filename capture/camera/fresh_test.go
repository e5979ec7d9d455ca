package camera

import (
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A shutter hands on the frames that take gives, the n-th with its stamp, and the last for ever.
type shutter struct {
	take []shot
	n    int
}

type shot struct {
	level uint8 // of a frame that is not plain: one pixel is another
	plain bool
	stamp string
}

func (s *shutter) ready(context.Context) ([]string, error) { return nil, nil }
func (s *shutter) rest()                                   {}
func (s *shutter) close() error                            { return nil }
func (s *shutter) next(ctx context.Context) (image.Image, string, error) {
	if err := ctx.Err(); err != nil {
		return nil, "", err
	}
	f := s.take[min(s.n, len(s.take)-1)]
	s.n++
	m := grey(8, 8, f.level)
	if !f.plain {
		m.Set(0, 0, color.White)
	}
	return m, f.stamp, nil
}

// TestAFrozenCamera: what came before is no photo, whether it is all that comes or is followed by what is new.
func TestAFrozenCamera(t *testing.T) {
	old := shot{level: 10}
	tests := []struct {
		name, why string
		frames    []shot
		coded     bool
		photos    []uint8 // their levels; then the source is frozen
	}{
		{"frozen from the start", "a photo of several frames, all of them alike", []shot{old}, false, nil},
		{"frozen later", "the second photo would be the first again", []shot{old, {level: 12}}, false, []uint8{11}},
		{"an old frame in a buffer", "it is passed over, and what is new follows", []shot{{level: 10}, {level: 12}, {level: 12}, {level: 10}, {level: 20}, {level: 22}, {level: 20}}, false, []uint8{11, 21}},
		{"frames twice", "a server fills up what the camera is too slow for", []shot{{level: 10}, {level: 10}, {level: 12}, {level: 12}, {level: 20}, {level: 20}, {level: 22}}, false, []uint8{11, 21}},
		{"a coder", "frames of one photo may be alike, those of another not", []shot{{level: 10}, {level: 10}, {level: 20}, {level: 20}}, true, []uint8{10, 20}},
		{"two in turn", "a loop of old frames", []shot{{level: 10}, {level: 12}, {level: 10}, {level: 12}, {level: 10}, {level: 12}, {level: 10}}, false, []uint8{11}},
		{"time stands still", "pictures that differ in a clock drawn into them, of one moment by their stamps",
			[]shot{{level: 10, stamp: "1"}, {level: 12, stamp: "2"}, {level: 14, stamp: "2"}, {level: 16, stamp: "2"}, {level: 18, stamp: "2"}}, false, []uint8{11}},
	}
	for _, tt := range tests {
		s := &Source{name: "shutter", from: &shutter{take: tt.frames}, options: Options{Average: 2, Drop: -1, Timeout: 100 * time.Millisecond}.withDefaults(), coded: tt.coded}
		for i, want := range tt.photos {
			if m, err := s.Photo(t.Context()); err != nil || level(m) != want {
				t.Fatalf("%s: photo %d: %v, want level %d: %s", tt.name, i, err, want, tt.why)
			}
		}
		if m, err := s.Photo(t.Context()); !errors.Is(err, ErrFrozen) || !strings.Contains(err.Error(), "live sensor") {
			t.Errorf("%s: %v, %v; want it frozen: %s", tt.name, m, err, tt.why)
		}
	}
}

// TestACameraThatIsAlive is never said to be frozen: in the dark without noise, or with a stamp that means nothing.
func TestACameraThatIsAlive(t *testing.T) {
	constant := func(n int, stamp string) (list []shot) {
		for i := range n {
			list = append(list, shot{level: uint8(i), stamp: stamp})
		}
		return list
	}
	for name, from := range map[string]*shutter{
		"dark":              {take: []shot{{plain: true}}},
		"a stamp like mute": {take: constant(20, "0.000000")},
	} {
		s := &Source{name: name, from: from, options: Options{Average: 2, Drop: 1, Timeout: 20 * time.Second}.withDefaults()}
		for range 4 {
			if _, err := s.Photo(t.Context()); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
	}
}

// TestAFileThatIsNotWrittenAnew is one photo and no more; written anew it is the next.
func TestAFileThatIsNotWrittenAnew(t *testing.T) {
	path := filepath.Join(t.TempDir(), "p.png")
	one, two := grey(8, 8, 1), grey(8, 8, 2)
	one.Set(3, 3, color.White)
	two.Set(3, 3, color.White)
	save(t, path, one)
	s, err := Open(path, Options{Timeout: 300 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Photo(t.Context()); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Photo(t.Context()); !errors.Is(err, ErrFrozen) {
		t.Errorf("the same file again: %v", err)
	}
	save(t, path, two)
	s.options.Timeout = 20 * time.Second
	if _, err := s.Photo(t.Context()); err != nil {
		t.Errorf("written anew: %v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	time.AfterFunc(100*time.Millisecond, cancel)
	if _, err := s.Photo(ctx); !errors.Is(err, context.Canceled) {
		t.Errorf("interrupted: %v", err)
	}
}

// TestAStreamSaysWhenAFrameWasTaken: frames that differ but are of one moment by their header are one frame.
func TestAStreamSaysWhenAFrameWasTaken(t *testing.T) {
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "multipart/x-mixed-replace; boundary=x")
		for n := 0; r.Context().Err() == nil; n++ {
			fmt.Fprintf(w, "--x\r\nContent-Type: image/jpeg\r\nX-Timestamp: %d.5\r\n\r\n", min(n, 3))
			m := grey(16, 16, uint8(n))
			m.Set(1, 1, color.White)
			if jpeg.Encode(w, m, nil) != nil {
				return
			}
			fmt.Fprint(w, "\r\n")
			time.Sleep(time.Millisecond)
		}
	}))
	defer server.Close()
	s, err := Open(server.URL, Options{Average: 3, Drop: 1, Timeout: 20 * time.Second})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if _, err := s.Photo(t.Context()); err != nil {
		t.Fatal(err)
	}
	s.options.Timeout = 300 * time.Millisecond
	if _, err := s.Photo(t.Context()); !errors.Is(err, ErrFrozen) {
		t.Errorf("a stream whose time stands still: %v", err)
	}
}

func TestOldFramesAreForgottenOneByOne(t *testing.T) {
	var r recent
	for i := range uint64(3 * remembered) {
		r.add(i)
		r.add(i)
		if len(r.set) > remembered || !r.has(i) || i >= remembered && (r.has(i-remembered) || !r.has(i-remembered+1)) {
			t.Fatalf("after %d frames %d are known", i+1, len(r.set))
		}
	}
}
