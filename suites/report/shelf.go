package report

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"html/template"
	"image"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/disintegration/imaging"

	"github.com/fascia-bench/fascia/capture/picture"
)

// maxSide bounds the sides of a picture on the page, in px: a larger one (a photo) is scaled
// down, since a page of them would be too large to mail.
const maxSide = 1024

// A picOnPage is a picture embedded once and drawn wherever its ID is used.
type picOnPage struct {
	ID   string
	URI  template.URL
	W, H int // of the picture in the folder, px
	hash string
}

// A shelf holds the pictures of a page. The same pixels are kept once, however many files hold them.
type shelf struct {
	root   *os.Root
	byPath map[string]shelved
	byHash map[string]*picOnPage
	pics   []*picOnPage // in the order in which they were first asked for
}

type shelved struct {
	pic *picOnPage
	why string
}

func newShelf(root *os.Root) *shelf {
	return &shelf{root: root, byPath: map[string]shelved{}, byHash: map[string]*picOnPage{}}
}

// get returns the picture at path in the run's folder, or says in a few words why there is none.
func (s *shelf) get(path string) (*picOnPage, string) {
	if path == "" {
		return nil, "no picture"
	}
	got, ok := s.byPath[path]
	if !ok {
		got.pic, got.why = s.load(path)
		s.byPath[path] = got
	}
	return got.pic, got.why
}

func (s *shelf) load(path string) (*picOnPage, string) {
	img, why := readPicture(s.root, path)
	if img == nil {
		return nil, why
	}
	hash := picture.Hash(img)
	if p := s.byHash[hash]; p != nil {
		return p, ""
	}
	size := img.Bounds().Size()
	if max(size.X, size.Y) > maxSide {
		img = imaging.Fit(img, maxSide, maxSide, imaging.Lanczos)
	}
	// Written again and not copied: other programs' files are larger, and may hold more than pixels.
	var b bytes.Buffer
	if err := picture.EncodePNG(&b, img); err != nil {
		return nil, err.Error()
	}
	p := &picOnPage{
		ID:   fmt.Sprintf("p%d", len(s.pics)+1),
		URI:  template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(b.Bytes())),
		W:    size.X,
		H:    size.Y,
		hash: hash,
	}
	s.byHash[hash] = p
	s.pics = append(s.pics, p)
	return p, ""
}

// readPicture reads a picture below root; root itself sees to it that nothing outside is read.
func readPicture(root *os.Root, path string) (image.Image, string) {
	f, err := root.Open(filepath.FromSlash(path))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, "the file is missing: " + path
	}
	if err != nil {
		return nil, "the file cannot be read: " + path
	}
	defer f.Close()
	img, err := picture.Decode(f, path)
	if err != nil {
		return nil, err.Error()
	}
	if img.Bounds().Empty() {
		return nil, "the picture is empty: " + path
	}
	return img, ""
}
