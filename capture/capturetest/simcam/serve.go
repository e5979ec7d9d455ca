package simcam

import (
	"fmt"
	"image"
	"image/jpeg"
	"net/http"
	"sync"
	"time"
)

// Handler streams photos as MJPEG over HTTP (multipart/x-mixed-replace), as network cameras do.
// panel returns what the panel shows; it is asked once a photo. Quality is JPEG's, 1 to 100.
func (c *Camera) Handler(panel func() image.Image, quality int) http.Handler {
	var mu sync.Mutex // the camera takes one photo at a time, whoever asks
	return http.HandlerFunc(func(w http.ResponseWriter, req *http.Request) {
		w.Header().Set("Content-Type", "multipart/x-mixed-replace; boundary=photo")
		for req.Context().Err() == nil {
			mu.Lock()
			photo := c.Photo(panel())
			mu.Unlock()
			if _, err := fmt.Fprint(w, "--photo\r\nContent-Type: image/jpeg\r\n\r\n"); err != nil {
				return
			}
			if err := jpeg.Encode(w, photo, &jpeg.Options{Quality: quality}); err != nil {
				return
			}
			if _, err := fmt.Fprint(w, "\r\n"); err != nil {
				return
			}
			if f, ok := w.(http.Flusher); ok {
				f.Flush()
			}
			select { // a stream as fast as the loopback takes it would starve its reader
			case <-time.After(10 * time.Millisecond):
			case <-req.Context().Done():
			}
		}
	})
}
