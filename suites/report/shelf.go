package report

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"html/template"
	"image"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"sync/atomic"

	"github.com/disintegration/imaging"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/suites/record"
)

// maxSide bounds the sides of a picture on the page, in px: a larger one (a photo) is scaled
// down, since a page of them would be too large to mail.
const maxSide = 1024

// A picOnPage is a picture embedded once and drawn wherever its ID is used.
type picOnPage struct {
	ID   string
	Href template.HTMLAttr // href, with the picture itself; base64 needs no escaping, and there is much of it
	W, H int               // of the picture in the folder, px
}

// A shelf holds the pictures of a page. The same pixels are kept once, however many files hold them.
type shelf struct {
	root   *os.Root
	ahead  map[string]ready // read before they were asked for
	byPath map[string]shelved
	byHash map[string]*picOnPage
	pics   []*picOnPage // in the order in which they were first asked for

	byOutline map[string]string
	outlines  []outline
}

// An outline is a set of rings as one SVG path, kept once like a picture: golden, capture and frame
// show the same.
type outline struct{ ID, D string }

type shelved struct {
	pic *picOnPage
	why string
}

func newShelf(root *os.Root) *shelf {
	return &shelf{root: root, ahead: map[string]ready{}, byPath: map[string]shelved{}, byHash: map[string]*picOnPage{}, byOutline: map[string]string{}}
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
	r, ok := s.ahead[path]
	if !ok {
		r = prepare(s.root, path)
	}
	if r.why != "" {
		return nil, r.why
	}
	if p := s.byHash[r.hash]; p != nil {
		return p, ""
	}
	p := &picOnPage{ID: fmt.Sprintf("p%d", len(s.pics)+1), Href: r.href, W: r.size.X, H: r.size.Y}
	s.byHash[r.hash] = p
	s.pics = append(s.pics, p)
	return p, ""
}

// A ready picture can be put on a page, or there is a reason why not.
type ready struct {
	href template.HTMLAttr
	hash string // of its pixels, or of a file of our own
	size image.Point
	why  string
}

// readAhead prepares the pictures of a run on all cores: that is most of a page's time.
func (s *shelf) readAhead(looks []record.Look) {
	var paths []string
	seen := map[string]bool{"": true}
	for _, l := range looks {
		for _, path := range []string{l.Capture, l.Golden} {
			if !seen[path] {
				seen[path] = true
				paths = append(paths, path)
			}
		}
	}
	list := make([]ready, len(paths))
	var next atomic.Int64
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for i := next.Add(1) - 1; i < int64(len(paths)); i = next.Add(1) - 1 {
				list[i] = prepare(s.root, paths[i])
			}
		})
	}
	wg.Wait()
	for i, path := range paths {
		s.ahead[path] = list[i]
	}
}

func prepare(root *os.Root, path string) ready {
	file, why := readFile(root, path)
	if why != "" {
		return ready{why: why}
	}
	// Our own files are as small as they get, and the same pixels have the same bytes: they go onto the page as they
	// are. Other programs' are larger, and may hold more than pixels.
	size, ours := bare(file)
	key := sha256.Sum256(file)
	r := ready{hash: string(key[:]), size: size}
	if !ours || max(size.X, size.Y) > maxSide {
		img, why := decode(file, path)
		if why != "" {
			return ready{why: why}
		}
		r = ready{hash: picture.Hash(img), size: img.Bounds().Size()}
		if max(r.size.X, r.size.Y) > maxSide {
			img = imaging.Fit(img, maxSide, maxSide, imaging.Lanczos)
		}
		var b bytes.Buffer
		if err := picture.EncodePNG(&b, img); err != nil {
			return ready{why: err.Error()}
		}
		file = b.Bytes()
	}
	r.href = template.HTMLAttr(`href="data:image/png;base64,` + base64.StdEncoding.EncodeToString(file) + `"`)
	return r
}

// bare tells whether a file is an undamaged PNG of nothing but pixels, in few colours or plain RGB, as the run writes it, and how
// large it is (PNG specification, third edition, section 5: a signature of 8 bytes, then chunks of length, type, data, CRC;
// 11.2.1: IHDR begins with width and height).
func bare(file []byte) (size image.Point, ok bool) {
	const signature = "\x89PNG\r\n\x1a\n"
	if !bytes.HasPrefix(file, []byte(signature)) {
		return size, false
	}
	kind, pixels := "", false
	for rest := file[len(signature):]; len(rest) > 0; {
		if len(rest) < 12 {
			return size, false
		}
		n := uint64(binary.BigEndian.Uint32(rest))
		if n+12 > uint64(len(rest)) || crc32.ChecksumIEEE(rest[4:n+8]) != binary.BigEndian.Uint32(rest[n+8:]) {
			return size, false
		}
		first := kind == ""
		kind = string(rest[4:8])
		pixels = pixels || kind == "IDAT"
		switch {
		case first != (kind == "IHDR"):
			return size, false
		case first && n == 13:
			size = image.Pt(int(binary.BigEndian.Uint32(rest[8:])), int(binary.BigEndian.Uint32(rest[12:])))
		case kind != "PLTE" && kind != "IDAT" && kind != "IEND":
			return size, false
		}
		rest = rest[n+12:]
	}
	return size, kind == "IEND" && pixels && !image.Rectangle{Max: size}.Empty() && file[24] <= 8 // bits a channel
}

// outline returns the ID of a path around regions, or nothing if there are none.
func (s *shelf) outline(rings []ring) string {
	if len(rings) == 0 {
		return ""
	}
	var d strings.Builder
	for _, r := range rings {
		f := r.Box.Inset(-ringGap)
		fmt.Fprintf(&d, "M%d %dh%dv%dh%dz", f.Min.X, f.Min.Y, f.Dx(), f.Dy(), -f.Dx())
	}
	id := s.byOutline[d.String()]
	if id == "" {
		id = fmt.Sprintf("r%d", len(s.outlines)+1)
		s.byOutline[d.String()] = id
		s.outlines = append(s.outlines, outline{id, d.String()})
	}
	return id
}

// readFile reads a file below root; root itself sees to it that nothing outside is read. It returns its bytes, or why
// there are none.
func readFile(root *os.Root, path string) ([]byte, string) {
	f, err := root.Open(filepath.FromSlash(path))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, "the file is missing: " + path
	}
	if err != nil {
		return nil, "the file cannot be read: " + path
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && info.Size() > picture.MaxBytes { // before any of it is in memory
		return nil, fmt.Sprintf("the file is larger than %d MiB: %s", picture.MaxBytes>>20, path)
	}
	file, err := io.ReadAll(io.LimitReader(f, picture.MaxBytes))
	if err != nil {
		return nil, "the file cannot be read: " + path
	}
	return file, ""
}

// readPicture reads a picture below root; it returns no picture, and why, where there is none.
func readPicture(root *os.Root, path string) (image.Image, string) {
	file, why := readFile(root, path)
	if why != "" {
		return nil, why
	}
	return decode(file, path)
}

func decode(file []byte, path string) (image.Image, string) {
	img, err := picture.Decode(bytes.NewReader(file), path)
	if err != nil {
		return nil, err.Error()
	}
	if img.Bounds().Empty() {
		return nil, "the picture is empty: " + path
	}
	return img, ""
}
