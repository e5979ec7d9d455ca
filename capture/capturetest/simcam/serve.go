package simcam

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"net/http"
	"sync"
	"time"
)

// pace is the least time between two frames of a stream.
const pace = 30 * time.Millisecond

// Handler streams photos as MJPEG over HTTP (multipart/x-mixed-replace), as network cameras do. Within one
// request the rig stands still, as it does for the frames of one photo; between requests it wanders.
// panel returns what the panel shows and what befalls the photo; it is asked once a frame. Quality is JPEG's,
// 1 to 100.
func (c *Camera) Handler(panel func() (image.Image, Shot), quality int) http.Handler {
	var mu sync.Mutex // the camera takes one photo at a time, whoever asks
	return http.HandlerFunc(func(w http.ResponseWriter, req *http.Request) {
		w.Header().Set("Content-Type", "multipart/x-mixed-replace; boundary=photo")
		mu.Lock()
		rest := c.wander(Shot{})
		mu.Unlock()
		var last *image.RGBA
		var part bytes.Buffer
		for req.Context().Err() == nil {
			mu.Lock()
			m, s := panel()
			photo := c.Take(m, c.settled(s, rest))
			mu.Unlock()
			if photo != last { // a camera that is frozen codes nothing anew
				last = photo
				part.Reset()
				part.WriteString("--photo\r\nContent-Type: image/jpeg\r\n\r\n")
				if err := jpeg.Encode(&part, photo, &jpeg.Options{Quality: quality}); err != nil {
					return
				}
				part.WriteString("\r\n")
			}
			if _, err := w.Write(part.Bytes()); err != nil {
				return
			}
			if f, ok := w.(http.Flusher); ok {
				f.Flush()
			}
			select { // a stream as fast as the loopback takes it would starve its reader
			case <-time.After(pace):
			case <-req.Context().Done():
			}
		}
	})
}

// settled adds to a shot where the rig has come to rest; the backlight's pulses go on.
func (c *Camera) settled(s, rest Shot) Shot {
	if s.Exposure == 0 {
		s.Exposure = 1
	}
	s.MoveX, s.MoveY, s.Exposure = s.MoveX+rest.MoveX, s.MoveY+rest.MoveY, s.Exposure*rest.Exposure
	s.Balance, s.Phase, s.Still = rest.Balance, 2*math.Pi*c.rnd.Float64(), true
	return s
}
