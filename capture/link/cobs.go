package link

import (
	"encoding/binary"
	"errors"
	"hash/crc32"
)

// MaxBody is the longest frame body accepted, in bytes: a piece of a reply with its header.
const MaxBody = 8192

var errFrame = errors.New("link: not a frame")

// appendCOBS appends the Consistent Overhead Byte Stuffing of src (S. Cheshire, M. Baker,
// IEEE/ACM Trans. Networking 7(2), 1999): no zero byte, one byte longer per 254.
func appendCOBS(dst, src []byte) []byte {
	code := len(dst)
	dst = append(dst, 0)
	for _, b := range src {
		if b != 0 {
			dst = append(dst, b)
		}
		if b == 0 || len(dst)-code == 255 {
			dst[code] = byte(len(dst) - code)
			code = len(dst)
			dst = append(dst, 0)
		}
	}
	dst[code] = byte(len(dst) - code)
	return dst
}

// decodeCOBS undoes appendCOBS. It refuses nothing at all, zero bytes, and a last block that is
// cut short. A full last block may or may not be followed by 01.
func decodeCOBS(src []byte) ([]byte, error) {
	if len(src) == 0 {
		return nil, errFrame
	}
	dst := make([]byte, 0, len(src))
	for len(src) > 0 {
		n := int(src[0])
		if n == 0 || n > len(src) {
			return nil, errFrame
		}
		for _, b := range src[1:n] {
			if b == 0 {
				return nil, errFrame
			}
		}
		dst = append(dst, src[1:n]...)
		src = src[n:]
		if n < 255 && len(src) > 0 {
			dst = append(dst, 0)
		}
	}
	return dst, nil
}

// EncodeFrame wraps a body as it goes over the line: zero, COBS of body and CRC-32, zero.
func EncodeFrame(body []byte) []byte {
	raw := binary.LittleEndian.AppendUint32(append([]byte(nil), body...), crc32.ChecksumIEEE(body))
	return append(appendCOBS([]byte{0}, raw), 0)
}

// DecodeFrame returns the body of what stood between two zero bytes. Anything but a whole
// frame with a right CRC is an error: of random bytes one in 2^32 passes.
func DecodeFrame(between []byte) ([]byte, error) {
	if len(between) > MaxBody+MaxBody/254+6 {
		return nil, errFrame
	}
	raw, err := decodeCOBS(between)
	if err != nil {
		return nil, err
	}
	n := len(raw) - 4
	if n < 2 || binary.LittleEndian.Uint32(raw[n:]) != crc32.ChecksumIEEE(raw[:n]) {
		return nil, errFrame
	}
	return raw[:n], nil
}
