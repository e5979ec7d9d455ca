package review

import (
	"bytes"
	"errors"
	"image"
	"net/http"
	"strconv"
	"sync"

	"github.com/disintegration/imaging"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/record"
)

// Sizes in px: thumbs are sharp on a screen of twice the density.
const (
	thumbSide = 320
	cropSide  = 200 // of the longer side of a specimen
	maxThumbs = 48 << 20
	maxOpen   = 12 // pictures kept decoded
)

// A shelf hands out pictures of the run, each proved against the record. Thumbs are made once.
type shelf struct {
	desk *suites.Desk

	mu     sync.Mutex
	thumbs map[string][]byte // PNG by hash of the pixels
	bytes  int
	open   []opened // last used at the end
	busy   chan struct{}
}

type opened struct {
	file, hash string
	img        image.Image
	data       []byte
}

func newShelf(d *suites.Desk) *shelf {
	return &shelf{desk: d, thumbs: map[string][]byte{}, busy: make(chan struct{}, 4)}
}

// get decodes a picture, or remembers it.
func (s *shelf) get(file, hash string) (image.Image, error) {
	img, _, err := s.load(file, hash)
	return img, err
}

// load is get with the file's bytes.
func (s *shelf) load(file, hash string) (image.Image, []byte, error) {
	s.mu.Lock()
	for i, o := range s.open {
		if o.file == file && o.hash == hash {
			s.open = append(append(s.open[:i:i], s.open[i+1:]...), o)
			s.mu.Unlock()
			return o.img, o.data, nil
		}
	}
	s.mu.Unlock()
	img, data, err := s.desk.PictureFile(file, hash)
	if err != nil {
		return nil, nil, err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.open = append(s.open, opened{file, hash, img, data})
	s.open = s.open[max(0, len(s.open)-maxOpen):]
	return img, data, nil
}

func (s *shelf) thumb(l record.Look) ([]byte, error) {
	s.mu.Lock()
	have := s.thumbs[l.Pixels]
	s.mu.Unlock()
	if have != nil {
		return have, nil
	}
	s.busy <- struct{}{} // scrolling fast must not decode hundreds at once
	defer func() { <-s.busy }()
	img, data, err := s.desk.PictureFile(l.Capture, l.Pixels)
	if err != nil {
		return nil, err
	}
	if size := img.Bounds().Size(); max(size.X, size.Y) > thumbSide || !isPNG(data) {
		var b bytes.Buffer
		if err := picture.EncodePNG(&b, imaging.Fit(img, thumbSide, thumbSide, imaging.Box)); err != nil {
			return nil, err
		}
		data = b.Bytes()
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.bytes+len(data) > maxThumbs {
		s.thumbs, s.bytes = map[string][]byte{}, 0
	}
	s.thumbs[l.Pixels] = data
	s.bytes += len(data)
	return data, nil
}

func isPNG(data []byte) bool { return bytes.HasPrefix(data, []byte("\x89PNG\r\n\x1a\n")) }

// pair returns golden and capture of a look.
func (s *shelf) pair(l record.Look) (golden, capture image.Image, err error) {
	if capture, err = s.get(l.Capture, l.Pixels); err != nil {
		return nil, nil, err
	}
	if l.Golden == "" {
		return nil, nil, errNoGolden
	}
	golden, err = s.get(l.Golden, l.GoldenPixels)
	return golden, capture, err
}

var errNoGolden = errors.New("this look had no golden in the run")

// at finds the look that a request names.
func (s *Server) at(w http.ResponseWriter, r *http.Request) (int, bool) {
	n, err := strconv.Atoi(r.PathValue("n"))
	if err != nil || n < 0 || n >= len(s.desk.Run.Looks) {
		refuse(w, http.StatusNotFound, "the run has no such look")
		return 0, false
	}
	return n, true
}

func (s *Server) picture(w http.ResponseWriter, r *http.Request) {
	n, ok := s.at(w, r)
	if !ok {
		return
	}
	l := s.desk.Run.Looks[n]
	var img image.Image
	var err error
	switch r.PathValue("kind") {
	case "thumb":
		var data []byte
		if data, err = s.shelf.thumb(l); err == nil {
			sendPNG(w, data)
			return
		}
	case "capture", "golden":
		file, hash := l.Capture, l.Pixels
		if r.PathValue("kind") == "golden" {
			file, hash = l.Golden, l.GoldenPixels
		}
		if err = errNoGolden; file != "" {
			var data []byte
			if img, data, err = s.shelf.load(file, hash); err == nil && isPNG(data) {
				sendPNG(w, data)
				return
			}
		}
	case "relief":
		var g, c image.Image
		if g, c, err = s.shelf.pair(l); err == nil {
			if m, ok := compare.Map(g, c); ok {
				img = relief(m, picture.Pix(g))
			} else {
				err = errors.New("there is no SSIM between pictures of different size, or under 11 px a side")
			}
		}
	default:
		refuse(w, http.StatusNotFound, "there is no such kind of picture")
		return
	}
	s.send(w, img, err)
}

func (s *Server) send(w http.ResponseWriter, img image.Image, err error) {
	if err != nil {
		refuse(w, http.StatusConflict, err.Error())
		return
	}
	var b bytes.Buffer
	if err := picture.EncodePNG(&b, img); err != nil {
		refuse(w, http.StatusInternalServerError, err.Error())
		return
	}
	sendPNG(w, b.Bytes())
}

func sendPNG(w http.ResponseWriter, data []byte) {
	w.Header().Set("Content-Type", "image/png")
	w.Header().Set("Cache-Control", "private, max-age=3600") // the address is of this sitting only
	w.Write(data)
}
