package review

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"math"
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

// crop serves a region with some of what is around it, enlarged by whole numbers.
func (s *Server) crop(w http.ResponseWriter, r *http.Request) {
	n, ok := s.at(w, r)
	if !ok {
		return
	}
	l := s.desk.Run.Looks[n]
	i, err := strconv.Atoi(r.PathValue("region"))
	if err != nil || l.Finding == nil || i < 0 || i >= len(l.Finding.Regions) {
		refuse(w, http.StatusNotFound, "the look has no such region")
		return
	}
	g, c, err := s.shelf.pair(l)
	if err != nil {
		refuse(w, http.StatusConflict, err.Error())
		return
	}
	from := c
	if r.PathValue("kind") == "golden" {
		from = g
	}
	box := around(l.Finding.Regions[i].Rect(), image.Rectangle{Max: c.Bounds().Size()})
	part := imaging.Crop(picture.Pix(from), box)
	k := max(1, cropSide/max(box.Dx(), box.Dy()))
	s.send(w, imaging.Resize(part, box.Dx()*k, box.Dy()*k, imaging.NearestNeighbor), nil)
}

// around widens a region to a shape that shows where it is.
func around(r, panel image.Rectangle) image.Rectangle {
	r = r.Inset(-5)
	if d := 40 - r.Dx(); d > 0 {
		r.Min.X, r.Max.X = r.Min.X-d/2, r.Max.X+d-d/2
	}
	if d := 26 - r.Dy(); d > 0 {
		r.Min.Y, r.Max.Y = r.Min.Y-d/2, r.Max.Y+d-d/2
	}
	if r.Dx() > 100 { // of what is long, its beginning
		r.Max.X = r.Min.X + 100
	}
	if r.Dy() > 65 {
		r.Max.Y = r.Min.Y + 65
	}
	shift := func(low, high, from, to int) int { return max(from-low, 0) + min(to-high, 0) }
	r = r.Add(image.Pt(shift(r.Min.X, r.Max.X, panel.Min.X, panel.Max.X), shift(r.Min.Y, r.Max.Y, panel.Min.Y, panel.Max.Y)))
	return r.Intersect(panel)
}

// relief draws a map of scores as land seen from above, lit from the upper left: plains are where golden
// and capture agree, and the lower a window's score, the higher its hill. Slopes show by light and
// height by tint, so it reads without colours, too. The golden is faintly printed on it.
func relief(m *image.Gray, golden *image.NRGBA) image.Image {
	size := m.Rect.Size()
	out := image.NewNRGBA(m.Rect)
	height := func(x, y int) float64 {
		x, y = min(max(x, 0), size.X-1), min(max(y, 0), size.Y-1)
		return 1 - float64(m.GrayAt(x, y).Y)/255
	}
	low, high := [3]float64{206, 212, 210}, [3]float64{224, 132, 30}
	for y := range size.Y {
		for x := range size.X {
			const steep = 7 // px of height of the highest hill
			dx, dy := steep*(height(x+1, y)-height(x-1, y))/2, steep*(height(x, y+1)-height(x, y-1))/2
			// Lambert's law: light by the cosine between the slope's normal and the light, from (-1, -1, 1.4).
			light := (dx + dy + 1.4) / math.Sqrt(dx*dx+dy*dy+1) / math.Sqrt(1+1+1.4*1.4)
			flat := 1.4 / math.Sqrt(1+1+1.4*1.4)
			shade := 1 + 1.1*(light-flat)
			under := golden.NRGBAAt(x, y)
			shade *= 0.86 + 0.14*(0.299*float64(under.R)+0.587*float64(under.G)+0.114*float64(under.B))/255
			h := math.Sqrt(height(x, y))
			var c [3]uint8
			for i := range c {
				c[i] = uint8(min(max((low[i]+(high[i]-low[i])*h)*shade, 0), 255))
			}
			out.SetNRGBA(x, y, color.NRGBA{c[0], c[1], c[2], 255})
		}
	}
	return out
}

// probe tells both colours at a pixel and how far they are apart.
func (s *Server) probe(w http.ResponseWriter, r *http.Request) {
	n, ok := s.at(w, r)
	if !ok {
		return
	}
	x, err1 := strconv.Atoi(r.URL.Query().Get("x"))
	y, err2 := strconv.Atoi(r.URL.Query().Get("y"))
	l := s.desk.Run.Looks[n]
	g, c, err := s.shelf.pair(l)
	if err == errNoGolden {
		c, err = s.shelf.get(l.Capture, l.Pixels)
		g = c
	}
	if err != nil {
		refuse(w, http.StatusConflict, err.Error())
		return
	}
	gp, cp := picture.Pix(g), picture.Pix(c)
	p := image.Pt(x, y)
	if err1 != nil || err2 != nil || !p.In(gp.Rect) || !p.In(cp.Rect) {
		refuse(w, http.StatusNotFound, "there is no such pixel in both pictures")
		return
	}
	a, b := gp.NRGBAAt(x, y), cp.NRGBAAt(x, y)
	answer(w, map[string]any{"golden": hexOf(a), "capture": hexOf(b), "de": compare.ColourDifference(compare.LabOf(a), compare.LabOf(b))})
}

func hexOf(c color.NRGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }
