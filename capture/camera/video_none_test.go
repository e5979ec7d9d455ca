//go:build !camera

package camera

import (
	"errors"
	"testing"
)

func TestABuildWithoutCamerasSaysSo(t *testing.T) {
	for _, where := range []string{"0", "/dev/video0", "rtsp://127.0.0.1/x"} {
		if _, err := Open(where, Options{}); !errors.Is(err, ErrNoCamera) {
			t.Errorf("%s: %v", where, err)
		}
	}
}
