package camera

import (
	"context"
	"errors"
	"net"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/capture/capturetest"
)

// TestPhotosEndWithTheirContext, from cameras that never answer, stop in the midst, or are frozen.
func TestPhotosEndWithTheirContext(t *testing.T) {
	mute, err := net.Listen("tcp", "127.0.0.1:0") // takes connections and says nothing
	if err != nil {
		t.Fatal(err)
	}
	defer mute.Close()
	begun := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "multipart/x-mixed-replace; boundary=x")
		_, _ = w.Write([]byte("--x\r\nContent-Type: image/jpeg\r\n\r\n\xff\xd8"))
		w.(http.Flusher).Flush()
		<-r.Context().Done()
	}))
	defer begun.Close()
	file := filepath.Join(t.TempDir(), "p.png")
	save(t, file, grey(8, 8, 1))
	for _, where := range []string{"http://" + mute.Addr().String(), begun.URL, t.TempDir()} {
		s, err := Open(where, Options{Timeout: time.Hour})
		if err != nil {
			t.Fatal(err)
		}
		capturetest.Ends(t, "a photo from "+where, func(ctx context.Context) {
			if _, err := s.Photo(ctx); !errors.Is(err, context.Canceled) {
				t.Errorf("%s: %v", where, err)
			}
		})
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
	frozen := &Source{name: "frozen", from: &shutter{take: []shot{{level: 3}}}, options: Options{Timeout: time.Hour}.withDefaults()}
	capturetest.Ends(t, "a frozen camera", func(ctx context.Context) {
		if _, err := frozen.Photo(ctx); !errors.Is(err, context.Canceled) {
			t.Errorf("frozen: %v", err)
		}
	})
}
