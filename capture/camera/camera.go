// Package camera takes photos of a panel and keeps what a bench has learnt from them.
//
// A Source is a camera on the machine, a stream from the network, a video file, a folder into which photos
// are dropped, or a single file. Cameras on the machine, RTSP streams and video files need OpenCV and
// so a build with the tag `camera`; the rest, and all that is done with photos, builds without.
//
// A photo is handed on only whole and only once: frames that are to the bit like one of an earlier photo are old, and none is
// made of them. One that can't be had is an error that says what to do. How to build a rig is told in README.md.
package camera

import (
	"context"
	"errors"
	"fmt"
	"image"
	"image/draw"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// ErrNoPhoto means that a source gave no photo in time.
var ErrNoPhoto = errors.New("the camera gave no photo")

// ErrNoCamera means that this build has no OpenCV, which the source needs.
var ErrNoCamera = errors.New("this build of fascia has no camera support")

// Options of a source. Zero values mean what each field says.
type Options struct {
	Average  int           // frames averaged into a photo; 0: 4
	Drop     int           // frames dropped before; 0: 3, negative: none, or one where one is averaged
	Timeout  time.Duration // for a photo; 0: 10 s
	Exposure float64       // in the driver's unit; 0: left alone
	Gain     float64
	White    float64 // colour temperature in kelvin
	Focus    float64
}

func (o Options) withDefaults() Options {
	if o.Average == 0 {
		o.Average = 4
	}
	if o.Drop == 0 {
		o.Drop = 3
	}
	if o.Timeout == 0 {
		o.Timeout = 10 * time.Second
	}
	o.Average, o.Drop = max(o.Average, 1), max(o.Drop, 0)
	return o
}

// frames is where single frames come from.
type frames interface {
	// next waits for a frame; it returns io.EOF where there will be no more. stamp is the frame's number or time as the
	// source has it, "" where it has none.
	next(ctx context.Context) (m image.Image, stamp string, err error)
	// ready is called before each photo: it locks controls, reads them back and returns warnings.
	ready(ctx context.Context) ([]string, error)
	// rest is called after each photo: what need not go on until the next may end.
	rest()
	close() error
}

// A Source takes photos. It may be used by one goroutine at a time.
type Source struct {
	name    string
	from    frames
	options Options
	still   bool // frames are photos already: neither dropped nor averaged
	coded   bool // a coder of video leaves out what hardly changes, so one photo's frames may be alike to the bit
	seen    recent
	clock   clock
	// Warnings are those of the photo taken last: controls that could not be locked.
	Warnings []string
}

// Open opens a source:
//
//	/dev/video0, or a number   a camera on this machine (tag camera)
//	http://…                   an MJPEG stream
//	rtsp://…                   an RTSP stream (tag camera)
//	opencv:…                   whatever else OpenCV opens, such as H.264 over HTTP (tag camera)
//	film.avi, .mp4, .mkv …     a video file (tag camera)
//	photos/                    a folder: each photo is the next new file in it
//	photo.png, .jpg            one file
func Open(where string, o Options) (*Source, error) {
	s := &Source{name: where, options: o.withDefaults()}
	var err error
	lower := strings.ToLower(where)
	switch info, statErr := os.Stat(where); {
	case strings.HasPrefix(lower, "http://") || strings.HasPrefix(lower, "https://"):
		s.from = &stream{url: where}
	case strings.HasPrefix(lower, "opencv:"):
		s.from, err = openVideo(where[len("opencv:"):], s.options)
		s.coded = true
	case strings.HasPrefix(lower, "rtsp://"), isDevice(where):
		s.from, err = openVideo(where, s.options)
		s.coded = !isDevice(where)
	case statErr != nil:
		return nil, fmt.Errorf("open camera %q: %w", where, statErr)
	case info.IsDir():
		s.from, s.still = newFolder(where), true
	case isPicture(lower):
		s.from, s.still = &file{path: where}, true
	default:
		s.from, err = openVideo(where, s.options)
		s.coded = true
	}
	if err != nil {
		return nil, fmt.Errorf("open camera %q: %w", where, err)
	}
	return s, nil
}

// In is a source as it is written in a file in a folder: paths are relative to the folder, all else is what it is.
func In(dir, where string) string {
	lower := strings.ToLower(where)
	if isDevice(where) || strings.HasPrefix(lower, "opencv:") || strings.Contains(lower, "://") || filepath.IsAbs(filepath.FromSlash(where)) {
		return where
	}
	return filepath.Join(dir, filepath.FromSlash(where))
}

func isPicture(lower string) bool {
	switch filepath.Ext(lower) {
	case ".png", ".jpg", ".jpeg":
		return true
	}
	return false
}

func isDevice(where string) bool {
	return strings.HasPrefix(where, "/dev/") || where != "" && strings.Trim(where, "0123456789") == ""
}

// Close lets the camera go.
func (s *Source) Close() error { return s.from.close() }

// Photo takes one photo: drops the first frames, averages the next. Frames that came before do not count; where no others
// come in time that is ErrFrozen.
func (s *Source) Photo(ctx context.Context) (image.Image, error) {
	limited, cancel := context.WithTimeout(ctx, s.options.Timeout)
	defer cancel()
	var err error
	if s.Warnings, err = s.from.ready(limited); err != nil {
		return nil, s.wrap(err)
	}
	defer s.from.rest()
	drop, take := s.options.Drop, s.options.Average
	if s.still {
		drop, take = 0, 1
	} else if !s.coded {
		drop = max(drop, 2-take) // that a source is alive takes two frames
	}
	var sum mean
	var marks []uint64 // of this photo
	for n, repeated := 0, false; n < drop+take; {
		m, stamp, err := s.from.next(limited)
		if repeated && ctx.Err() == nil && limited.Err() != nil {
			return nil, frozen(s.name, s.options)
		}
		if err != nil {
			return nil, s.wrap(err)
		}
		mark := fingerprint(m)
		alike := s.seen.has(mark) || !s.coded && slices.Contains(marks, mark)
		if repeated = s.clock.again(stamp) || alike && !plain(m); repeated {
			if err := s.pause(limited); err != nil && ctx.Err() == nil {
				return nil, frozen(s.name, s.options)
			} else if err != nil {
				return nil, s.wrap(err)
			}
			continue
		}
		marks = append(marks, mark)
		if n++; n <= drop {
			continue
		}
		if s.still {
			s.seen.add(mark)
			return m, nil
		}
		if err := sum.add(m); err != nil {
			return nil, s.wrap(err)
		}
	}
	for _, mark := range marks {
		s.seen.add(mark)
	}
	return sum.image(), nil
}

// pause waits for a file to be written anew. Others wait for their next frame by themselves.
func (s *Source) pause(ctx context.Context) error {
	if !s.still {
		return ctx.Err()
	}
	select {
	case <-time.After(50 * time.Millisecond):
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (s *Source) wrap(err error) error {
	if errors.Is(err, context.DeadlineExceeded) {
		return fmt.Errorf("%w: nothing came from %s in %v; is it plugged in, and is no other program using it?", ErrNoPhoto, s.name, s.options.Timeout)
	}
	return fmt.Errorf("take a photo with %s: %w", s.name, err)
}

// mean averages frames of one size.
type mean struct {
	size image.Point
	sum  []uint32
	n    uint32
}

func (a *mean) add(m image.Image) error {
	b := m.Bounds()
	rgba, ok := m.(*image.RGBA)
	if !ok || b.Min != (image.Point{}) || rgba.Stride != 4*b.Dx() {
		rgba = image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
		draw.Draw(rgba, rgba.Bounds(), m, b.Min, draw.Src)
	}
	if a.n == 0 {
		a.size, a.sum = b.Size(), make([]uint32, len(rgba.Pix))
	}
	if b.Size() != a.size {
		return fmt.Errorf("a frame of %v px follows one of %v: the camera changed its mode", b.Size(), a.size)
	}
	for i, v := range rgba.Pix[:len(a.sum)] {
		a.sum[i] += uint32(v)
	}
	a.n++
	return nil
}

func (a *mean) image() *image.RGBA {
	out := image.NewRGBA(image.Rectangle{Max: a.size})
	for i, v := range a.sum {
		out.Pix[i] = uint8((v + a.n/2) / a.n)
	}
	return out
}
