package link_test

import (
	"bytes"
	"math/rand/v2"
	"testing"

	"github.com/fascia-bench/fascia/capture/link"
)

// What CRC-32 promises (W. W. Peterson, D. T. Brown, Cyclic Codes for Error Detection, Proc. IRE 49,
// 1961): one burst of at most 32 bits is always found, other damage passes with a chance of 2^-32.
// COBS finds some before. Of a million corrupted frames 0.0002 are expected to pass.
func TestCorruptedFramesAreNoFrames(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	tried := 0
	for i := 0; tried < *corrupt; i++ {
		body := make([]byte, 2+r.IntN(220))
		for k := range body {
			body[k] = byte(r.Uint32() >> (8 * r.IntN(4)) & uint32(255*min(1, r.IntN(4))))
		}
		wire := link.EncodeFrame(body)
		whole := wire[1 : len(wire)-1]
		bad := damage(r, whole, i%4)
		if bytes.Equal(bad, whole) {
			continue
		}
		tried++
		if got, err := link.DecodeFrame(bad); err == nil && !bytes.Equal(got, body) {
			t.Fatalf("round %d: % x was taken for a frame, %x instead of %x", i, bad, got, body)
		}
	}
}

func damage(r *rand.Rand, b []byte, how int) []byte {
	b = bytes.Clone(b)
	at := r.IntN(len(b))
	switch how {
	case 0:
		b[at] ^= 1 << r.IntN(8)
	case 1:
		b = append(b[:at], b[at+1:]...)
	case 2:
		b = append(b[:at], append([]byte{byte(1 + r.IntN(255))}, b[at:]...)...)
	default:
		for i := at; i < min(len(b), at+1+r.IntN(20)); i++ {
			b[i] = byte(1 + r.IntN(255))
		}
	}
	return b
}
