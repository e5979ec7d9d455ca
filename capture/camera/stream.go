package camera

import (
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
)

// stream is MJPEG over HTTP. Each photo opens it anew, so that no frame waits in a buffer from before the
// panel changed.
type stream struct {
	url   string
	body  io.ReadCloser
	parts *multipart.Reader
}

// notLocked is said of every stream.
const notLocked = "exposure, gain, white balance and focus can't be locked through a stream: lock them in the camera's own settings"

// frameLimit bounds the bytes of a frame.
const frameLimit = 32 << 20

func (s *stream) ready(ctx context.Context) ([]string, error) {
	if err := s.close(); err != nil {
		return nil, err
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, s.url, nil)
	if err != nil {
		return nil, err
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return nil, err
	}
	kind, params, err := mime.ParseMediaType(resp.Header.Get("Content-Type"))
	if resp.StatusCode != http.StatusOK || err != nil || kind != "multipart/x-mixed-replace" || params["boundary"] == "" {
		return nil, errors.Join(fmt.Errorf("it answered %s with %q, not a stream of photos (multipart/x-mixed-replace)", resp.Status, resp.Header.Get("Content-Type")), resp.Body.Close())
	}
	boundary := params["boundary"]
	if len(boundary) > 2 && boundary[:2] == "--" { // some cameras write the dashes into the header too
		boundary = boundary[2:]
	}
	s.body, s.parts = resp.Body, multipart.NewReader(resp.Body, boundary)
	return []string{notLocked}, nil
}

// stampHeader is where many cameras write a frame's time; common practice, no source.
const stampHeader = "X-Timestamp"

func (s *stream) next(ctx context.Context) (image.Image, string, error) {
	part, err := s.parts.NextRawPart()
	if err != nil {
		if ctx.Err() != nil {
			return nil, "", ctx.Err()
		}
		return nil, "", fmt.Errorf("the stream ended: %w", err)
	}
	m, err := jpeg.Decode(io.LimitReader(part, frameLimit))
	if err != nil && ctx.Err() != nil {
		return nil, "", ctx.Err()
	}
	if err != nil {
		return nil, "", fmt.Errorf("a frame is no JPEG: %w", err)
	}
	return m, part.Header.Get(stampHeader), nil
}

// rest ends the stream, which is opened anew for the next photo: nobody reads it until then.
func (s *stream) rest() { _ = s.close() }

func (s *stream) close() error {
	if s.body == nil {
		return nil
	}
	err := s.body.Close()
	s.body, s.parts = nil, nil
	return err
}
