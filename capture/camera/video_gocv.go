//go:build camera

package camera

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"strconv"
	"strings"
	"sync"

	"gocv.io/x/gocv"
)

// video is whatever OpenCV opens: a device, an RTSP stream, a video file.
type video struct {
	capture *gocv.VideoCapture
	where   string
	device  bool
	fresh   bool // just opened: no old frames wait in a buffer
	options Options
	busy    sync.Mutex // held while the driver is asked for a frame
}

type frame struct {
	m     image.Image
	stamp string
	err   error
}

func openVideo(where string, o Options) (frames, error) {
	c, err := open(where)
	if err != nil {
		return nil, err
	}
	return &video{capture: c, where: where, device: isDevice(where), fresh: true, options: o}, nil
}

func open(where string) (c *gocv.VideoCapture, err error) {
	if n, e := strconv.Atoi(strings.TrimPrefix(where, "/dev/video")); e == nil {
		c, err = gocv.OpenVideoCapture(n)
	} else {
		c, err = gocv.OpenVideoCapture(where)
	}
	if err != nil {
		return nil, fmt.Errorf("%w; does it exist, may this user read it, and is no other program using it?", err)
	}
	return c, nil
}

// anew opens a stream again, whose buffer holds frames from before the panel changed.
func (v *video) anew() (err error) {
	if !v.busy.TryLock() {
		return fmt.Errorf("%w: the stream does not answer", ErrNoPhoto)
	}
	defer v.busy.Unlock()
	if v.fresh {
		v.fresh = false
		return nil
	}
	if v.capture != nil {
		if err := v.capture.Close(); err != nil {
			return err
		}
	}
	v.capture, err = open(v.where)
	return err
}

// ready locks the controls and reads them back: drivers forget them when a camera is plugged in again, and
// ignore manual values while an automatic mode is on.
func (v *video) ready(context.Context) ([]string, error) {
	if strings.Contains(v.where, "://") {
		return []string{notLocked}, v.anew()
	}
	if !v.device {
		return nil, nil
	}
	var warnings []string
	set := func(name string, p gocv.VideoCaptureProperties, value float64) {
		v.capture.Set(p, value)
		if got := v.capture.Get(p); got != value {
			warnings = append(warnings, fmt.Sprintf("%s can't be locked: asked for %g, the driver says %g", name, value, got))
		}
	}
	// For OpenCV's V4L2 back end the value 1 is manual exposure, after V4L2_EXPOSURE_MANUAL.
	set("automatic exposure", gocv.VideoCaptureAutoExposure, 1)
	set("automatic white balance", gocv.VideoCaptureAutoWB, 0)
	set("automatic focus", gocv.VideoCaptureAutoFocus, 0)
	for _, c := range []struct {
		name  string
		p     gocv.VideoCaptureProperties
		value float64
	}{
		{"exposure", gocv.VideoCaptureExposure, v.options.Exposure}, {"gain", gocv.VideoCaptureGain, v.options.Gain},
		{"white balance", gocv.VideoCaptureWBTemperature, v.options.White}, {"focus", gocv.VideoCaptureFocus, v.options.Focus},
	} {
		if c.value != 0 {
			set(c.name, c.p, c.value)
		}
	}
	return warnings, nil
}

// next reads in a goroutine of its own: OpenCV has no time limit, and a stuck driver must not hang a run.
func (v *video) next(ctx context.Context) (image.Image, string, error) {
	got := make(chan frame, 1)
	go func() { got <- v.read() }()
	select {
	case f := <-got:
		return f.m, f.stamp, f.err
	case <-ctx.Done():
		return nil, "", ctx.Err()
	}
}

func (v *video) read() (f frame) {
	v.busy.Lock()
	defer v.busy.Unlock()
	m := gocv.NewMat()
	defer func() { f.err = errors.Join(f.err, m.Close()) }()
	if !v.capture.Read(&m) || m.Empty() {
		if v.device {
			return frame{err: fmt.Errorf("%w: the device stopped sending; was it unplugged?", ErrNoPhoto)}
		}
		return frame{err: fmt.Errorf("%w: %w", ErrNoPhoto, io.EOF)}
	}
	out, err := m.ToImage()
	return frame{m: out, stamp: v.stamp(), err: err}
}

// stamp is when a frame was taken, by the driver's clock, or its place in a film. A stream that is opened anew for each photo counts
// from its start each time, which tells nothing.
func (v *video) stamp() string {
	at := v.capture.Get(gocv.VideoCapturePosMsec)
	if strings.Contains(v.where, "://") || at <= 0 {
		return ""
	}
	return strconv.FormatFloat(at, 'g', -1, 64)
}

func (v *video) rest() {}

func (v *video) close() error {
	if v.capture == nil { // it could not be opened again
		return nil
	}
	if !v.busy.TryLock() {
		return fmt.Errorf("the camera's driver does not answer; it is let go when fascia ends")
	}
	defer v.busy.Unlock()
	return v.capture.Close()
}
