// Package picture reads and writes the pictures that fascia holds against each other.
//
// Panels come as PNG of every kind or as PPM, PGM, PBM (plain and binary); photos also as JPEG.
// Only PNG is written, and the same pixels always give the same bytes. A picture is handed out
// whole or not at all: a file that is cut short, damaged, foreign or larger than the limits below
// is an error that names the file, never a guess.
//
// A panel has no transparency and eight bits a channel at most. [Pix] says what becomes of alpha
// and of 16-bit samples, and [Hash] is the one fingerprint of a picture's pixels.
//
// Declined: colour management (gamma, ICC and similar chunks are not applied, since a panel's values
// are compared as values) and the orientation tag of photos. A camera that looks straight down guesses
// its orientation and may change its mind between two shots; rectifying needs the sensor's own axes.
package picture

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"io/fs"
	"os"
)

// Limits on what is read. They are checked against the header, before memory is spent on pixels.
const (
	// MaxSide is the largest width or height, in pixels.
	MaxSide = 20_000
	// MaxPixels is the largest width times height: room for a 50-megapixel photo, which takes
	// 400 MB at the widest pixel (16 bits in each of four channels).
	MaxPixels = 50_000_000
	// MaxBytes is the largest file. It is above MaxPixels in 16-bit RGB as a binary PPM.
	MaxBytes = 320 << 20
)

// Reasons to refuse a picture. Test for them with errors.Is; a missing file is fs.ErrNotExist.
var (
	// ErrFormat: the bytes are no PNG, PPM, PGM, PBM or JPEG, or a variant that is not read.
	ErrFormat = errors.New("not a picture that can be read")
	// ErrTruncated: the file ends before its picture does.
	ErrTruncated = errors.New("truncated picture")
	// ErrDamaged: the file is long enough, but contradicts itself or fails a checksum.
	ErrDamaged = errors.New("damaged picture")
	// ErrTooLarge: the picture is beyond MaxSide, MaxPixels or MaxBytes.
	ErrTooLarge = errors.New("picture too large")
)

// limits bounds what a decoder may be asked to hold. Tests and fuzzing use smaller ones.
type limits struct {
	side, pixels int
	bytes        int64
}

var standard = limits{side: MaxSide, pixels: MaxPixels, bytes: MaxBytes}

// Read reads the picture in the file at path. Errors name the file.
func Read(path string) (image.Image, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, openError(path, err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return nil, openError(path, err)
	}
	if info.IsDir() {
		return nil, fmt.Errorf("read picture %q: this is a folder: %w", path, ErrFormat)
	}
	return Decode(f, path)
}

// openError words the failure to open path as one sentence that keeps the cause for errors.Is.
func openError(path string, err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		err = pe.Err // the path is named by us already
	}
	return fmt.Errorf("read picture %q: %w", path, err)
}

// Decode reads one picture from r. The name is only for errors: a path or whatever its user knows
// the picture by. The concrete type is the decoder's choice; use [Pix] for plain 8-bit pixels.
func Decode(r io.Reader, name string) (image.Image, error) {
	img, err := decode(r, standard)
	if err != nil {
		return nil, fmt.Errorf("read picture %q: %w", name, err)
	}
	return img, nil
}

func decode(r io.Reader, lim limits) (image.Image, error) {
	capped := &cappedReader{r: r, left: lim.bytes}
	br := bufio.NewReaderSize(capped, 1<<15)
	head, err := br.Peek(sniffLen)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("read its first bytes: %w", err)
	}
	var img image.Image
	switch k := sniff(head); k {
	case kindPNG:
		img, err = decodeStd(br, lim, png.DecodeConfig, png.Decode)
	case kindJPEG:
		img, err = decodeStd(br, lim, jpeg.DecodeConfig, jpeg.Decode)
	case kindPNM:
		img, err = decodePNM(br, lim)
	default:
		return nil, foreign(head)
	}
	if capped.over { // whatever the decoder made of the sudden end
		return nil, fmt.Errorf("the file is larger than %d MiB: %w", lim.bytes>>20, ErrTooLarge)
	}
	return img, err
}

// decodeStd runs one of the standard library's decoders, its header first. What the header took is
// kept and read again, so that any reader will do.
func decodeStd(r io.Reader, lim limits,
	config func(io.Reader) (image.Config, error), whole func(io.Reader) (image.Image, error),
) (image.Image, error) {
	var seen bytes.Buffer
	all := &endReader{r: r}
	c, err := config(io.TeeReader(all, &seen))
	if err != nil {
		return nil, stdError(err, all.ended)
	}
	if err := lim.check(c.Width, c.Height); err != nil {
		return nil, err
	}
	img, err := whole(io.MultiReader(&seen, all))
	if err != nil {
		return nil, stdError(err, all.ended)
	}
	return img, nil
}

// check refuses sides and areas beyond the limits. It cannot overflow: sides are bounded first.
func (lim limits) check(w, h int) error {
	switch {
	case w <= 0 || h <= 0:
		return fmt.Errorf("its header claims %dx%d pixels: %w", w, h, ErrDamaged)
	case w > lim.side || h > lim.side:
		return fmt.Errorf("its header claims %dx%d pixels, the limit is %d a side: %w", w, h, lim.side, ErrTooLarge)
	case w*h > lim.pixels:
		return fmt.Errorf("its header claims %dx%d pixels, the limit is %d in all: %w", w, h, lim.pixels, ErrTooLarge)
	}
	return nil
}

// stdError sorts an error of image/png or image/jpeg by what its user can do about it. The decoders
// have several words for a file that ends too soon; that they asked for more than there was (ended)
// tells it reliably.
func stdError(err error, ended bool) error {
	var (
		pf png.FormatError
		pu png.UnsupportedError
		jf jpeg.FormatError
		ju jpeg.UnsupportedError
	)
	switch {
	case ended:
		return fmt.Errorf("the file ends before its picture does: %w", ErrTruncated)
	case errors.As(err, &pu):
		if string(pu) == "dimension overflow" {
			return fmt.Errorf("its header claims more pixels than a computer can count: %w", ErrTooLarge)
		}
		return fmt.Errorf("a kind of PNG that is not read (%s): %w", string(pu), ErrFormat)
	case errors.As(err, &ju):
		return fmt.Errorf("a kind of JPEG that is not read (%s): %w", string(ju), ErrFormat)
	case errors.As(err, &pf):
		return fmt.Errorf("its PNG data contradicts itself (%s): %w", string(pf), ErrDamaged)
	case errors.As(err, &jf):
		return fmt.Errorf("its JPEG data contradicts itself (%s): %w", string(jf), ErrDamaged)
	}
	// Errors of zlib ("invalid checksum" and the like) have no type of their own to look for.
	return fmt.Errorf("%w: %w", ErrDamaged, err)
}

// endReader remembers whether its user asked for more than there was.
type endReader struct {
	r     io.Reader
	ended bool
}

func (e *endReader) Read(p []byte) (int, error) {
	n, err := e.r.Read(p)
	if errors.Is(err, io.EOF) {
		e.ended = true
	}
	return n, err
}

// cappedReader ends the stream after left bytes and remembers that it had to.
type cappedReader struct {
	r    io.Reader
	left int64
	over bool
}

func (c *cappedReader) Read(p []byte) (int, error) {
	if c.left <= 0 {
		// A file of exactly the limit is fine: only a further byte is too many.
		var one [1]byte
		n, err := c.r.Read(one[:])
		if n > 0 {
			c.over = true
			return 0, io.EOF
		}
		return 0, err
	}
	if int64(len(p)) > c.left {
		p = p[:c.left]
	}
	n, err := c.r.Read(p)
	c.left -= int64(n)
	return n, err
}
