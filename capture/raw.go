package capture

import (
	"errors"
	"fmt"
	"io"
)

// ReadRaw reads the bytes of one frame as they lie in a device's memory: rows without gaps. Fewer
// or more bytes than the panel has are an error, since nothing tells which of them are the frame.
func ReadRaw(r io.Reader, width, height int, format Format) (*Frame, error) {
	f := NewFrame(width, height, format)
	n, err := io.ReadFull(r, f.Pix)
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, fmt.Errorf("%d bytes are too few for %v, which has %d: another size or format?", n, f, len(f.Pix))
	}
	if err != nil {
		return nil, err
	}
	more, err := io.Copy(io.Discard, io.LimitReader(r, 1<<30))
	if err != nil {
		return nil, err
	}
	if more > 0 {
		return nil, fmt.Errorf("%d bytes are too many for %v, which has %d: another size or format?", int64(n)+more, f, n)
	}
	return f, nil
}
