package picture

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"io"
)

// pnm is the header of a PPM, PGM or PBM file, as the netpbm manual pages ppm(5), pgm(5) and
// pbm(5) define it: a magic number, width, height and (not in PBM) the largest sample value.
type pnm struct {
	magic  byte // '1' to '6'
	w, h   int
	maxval int
}

// plain reports whether samples are decimal text.
func (p pnm) plain() bool { return p.magic <= '3' }

// bitmap reports whether this is a PBM, where 1 is black and there is no maxval.
func (p pnm) bitmap() bool { return p.magic == '1' || p.magic == '4' }

// channels is 3 for PPM and 1 otherwise.
func (p pnm) channels() int {
	if p.magic == '3' || p.magic == '6' {
		return 3
	}
	return 1
}

// decodePNM reads one picture that must fill r: the manual pages allow several in a binary file,
// but for a panel, bytes left over mean that width or format are not what the header says.
func decodePNM(r *bufio.Reader, lim limits) (image.Image, error) {
	p, err := pnmHeader(r, lim)
	if err != nil {
		return nil, err
	}
	var img image.Image
	if p.plain() {
		img, err = p.readPlain(r)
	} else {
		img, err = p.readBinary(r)
	}
	if err != nil {
		return nil, err
	}
	if err := nothingLeft(r); err != nil {
		return nil, err
	}
	return img, nil
}

func pnmHeader(r *bufio.Reader, lim limits) (pnm, error) {
	var p pnm
	if _, err := r.ReadByte(); err != nil { // the P, seen by sniff
		return p, pnmError("its first word", err)
	}
	var err error
	if p.magic, err = r.ReadByte(); err != nil {
		return p, pnmError("its first word", err)
	}
	if p.w, err = pnmNumber(r, "the width"); err != nil {
		return p, err
	}
	if p.h, err = pnmNumber(r, "the height"); err != nil {
		return p, err
	}
	p.maxval = 1
	if !p.bitmap() {
		if p.maxval, err = pnmNumber(r, "the largest value"); err != nil {
			return p, err
		}
		if p.maxval < 1 || p.maxval > 65535 {
			return p, fmt.Errorf("its header gives %d as largest value, which must be 1 to 65535: %w", p.maxval, ErrDamaged)
		}
	}
	return p, lim.check(p.w, p.h)
}

// pnmNumber reads a decimal number after white space and comments, and the one character after it:
// in a binary file the raster begins right behind that. A # starts a comment that lasts to the end
// of its line, there too.
func pnmNumber(r *bufio.Reader, what string) (int, error) {
	c, err := skipBlank(r)
	if err != nil {
		return 0, pnmError(what, err)
	}
	n := 0
	for {
		if c < '0' || c > '9' {
			return 0, fmt.Errorf("%q stands where %s should be: %w", c, what, ErrDamaged)
		}
		if n = n*10 + int(c-'0'); n > 1<<28 { // far above every limit; keeps n from overflowing
			return 0, fmt.Errorf("%s is beyond every limit: %w", what, ErrTooLarge)
		}
		switch c, err = pnmByte(r); {
		case errors.Is(err, io.EOF):
			return n, nil // the end of a plain file; whoever needs more will miss it
		case err != nil:
			return 0, pnmError(what, err)
		case isSpace(c):
			return n, nil
		}
	}
}

// skipBlank returns the first byte that is neither white space nor in a comment.
func skipBlank(r *bufio.Reader) (byte, error) {
	for {
		c, err := pnmByte(r)
		if err != nil || !isSpace(c) {
			return c, err
		}
	}
}

// pnmByte reads a byte outside comments: a comment reads as the line end that closes it.
func pnmByte(r *bufio.Reader) (byte, error) {
	c, err := r.ReadByte()
	if err != nil || c != '#' {
		return c, err
	}
	for c != '\n' && c != '\r' {
		if c, err = r.ReadByte(); err != nil {
			return 0, err
		}
	}
	return c, nil
}

// readPlain reads decimal samples. Those of a PBM are single digits that need no space between them.
func (p pnm) readPlain(r *bufio.Reader) (image.Image, error) {
	out := newRaster(p)
	for y := range p.h {
		for i := range p.w * p.channels() {
			v, err := p.plainSample(r)
			if err != nil {
				return nil, fmt.Errorf("row %d, column %d: %w", y, i/p.channels(), err)
			}
			if v > p.maxval {
				return nil, fmt.Errorf("row %d, column %d holds %d, above the largest value %d: %w",
					y, i/p.channels(), v, p.maxval, ErrDamaged)
			}
			out.set(y, i, v)
		}
	}
	return out.img, nil
}

func (p pnm) plainSample(r *bufio.Reader) (int, error) {
	if !p.bitmap() {
		return pnmNumber(r, "a value")
	}
	c, err := skipBlank(r)
	if err != nil {
		return 0, pnmError("a bit", err)
	}
	if c != '0' && c != '1' {
		return 0, fmt.Errorf("%q stands where 0 or 1 should be: %w", c, ErrDamaged)
	}
	return int(c - '0'), nil
}

// readBinary reads rows of packed bits, bytes, or big-endian 16-bit words if maxval is above 255.
func (p pnm) readBinary(r *bufio.Reader) (image.Image, error) {
	n := p.w * p.channels() // samples a row
	size := n
	switch {
	case p.bitmap():
		size = (p.w + 7) / 8
	case p.maxval > 255:
		size = 2 * n
	}
	out := newRaster(p)
	row := make([]byte, size)
	for y := range p.h {
		if got, err := io.ReadFull(r, row); err != nil {
			if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
				return nil, fmt.Errorf("the file ends in row %d of %d, after %d of its %d bytes: %w", y, p.h, got, size, ErrTruncated)
			}
			return nil, fmt.Errorf("row %d: %w", y, err)
		}
		for i := range n {
			var v int
			switch {
			case p.bitmap():
				v = int(row[i/8]>>(7-i%8)) & 1
			case p.maxval > 255:
				v = int(binary.BigEndian.Uint16(row[2*i:]))
			default:
				v = int(row[i])
			}
			if v > p.maxval {
				return nil, fmt.Errorf("row %d, column %d holds %d, above the largest value %d: %w",
					y, i/p.channels(), v, p.maxval, ErrDamaged)
			}
			out.set(y, i, v)
		}
	}
	return out.img, nil
}

// nothingLeft accepts white space and comments to the end, as editors leave them behind plain files.
func nothingLeft(r *bufio.Reader) error {
	switch _, err := skipBlank(r); {
	case errors.Is(err, io.EOF):
		return nil
	case err != nil:
		return fmt.Errorf("after the picture: %w", err)
	}
	return fmt.Errorf("there is more behind the last row, so width, height or format are not what its header says: %w", ErrDamaged)
}

func pnmError(what string, err error) error {
	if errors.Is(err, io.EOF) {
		return fmt.Errorf("the file ends before %s: %w", what, ErrTruncated)
	}
	return fmt.Errorf("%s: %w", what, err)
}
