//go:build !camera

package camera

import "fmt"

func openVideo(string, Options) (frames, error) {
	return nil, fmt.Errorf("%w: install OpenCV 4 (on Debian: apt-get install libopencv-dev) and build with -tags camera; MJPEG over http, folders and files of photos work in every build", ErrNoCamera)
}
