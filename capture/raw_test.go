package capture

import (
	"bytes"
	"strings"
	"testing"
)

func TestReadRaw(t *testing.T) {
	pix := []byte("0123456789abcdef01234567") // 4x3 in two bytes each
	f, err := ReadRaw(bytes.NewReader(pix), 4, 3, RGB565BE)
	if err != nil || !bytes.Equal(f.Pix, pix) || f.Width != 4 {
		t.Errorf("%v, %v", f, err)
	}
	for n, want := range map[int]string{23: "23 bytes are too few for 4x3 rgb565be, which has 24", 25: "25 bytes are too many", 0: "0 bytes"} {
		if _, err := ReadRaw(bytes.NewReader(append(pix, 'x')[:n]), 4, 3, RGB565BE); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%d bytes: %v", n, err)
		}
	}
}
