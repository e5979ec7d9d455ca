package suites

import (
	"context"
	"errors"
	"fmt"
	"image"
	"os"
	"path"
	"path/filepath"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites/record"
)

// A judge holds looks against goldens and keeps the pictures.
type judge struct {
	store  *golden.Store
	target string
	runDir string
}

// look takes a look of a walk: captured, stored and judged. An error means that there is no capture, or
// that it could not be kept.
func (j *judge) look(ctx context.Context, d *driver, w *Walk, l TakeLook, line int) (record.Look, error) {
	rec := record.Look{Walk: w.Name, Look: l.Name, Line: line, Path: d.path, Verdict: record.NoCapture}
	d.path = nil
	for _, ig := range l.Ignore {
		r := ig.Rect
		rec.Ignored = append(rec.Ignored, record.Ignored{Area: ig.Area, X: r.Min.X, Y: r.Min.Y, W: r.Dx(), H: r.Dy(), Why: ig.Why})
	}
	approved, entry, err := j.store.Get(j.target, w.Name, l.Name)
	if err != nil {
		approved = nil
		if !errors.Is(err, golden.ErrNoGolden) {
			rec.Why = err.Error() // what stands there is nothing that anybody approved
		}
	}
	opt := link.LookOptions{Still: l.Settle.Still, Latest: l.Settle.Latest}
	var known *capture.Frame
	if approved != nil {
		if f, exact := capture.FromImage(approved, d.dev.Hello().Format, nil); exact {
			known = f
			opt.Known = []*capture.Frame{f}
		}
	}
	shot, err := d.dev.Look(ctx, opt)
	if err != nil {
		return rec, err
	}
	rec.Moving = shot.Moving
	rec.Settle = shot.Took.Seconds()
	rec.At = (d.dev.Now() - d.start).Seconds()
	rec.Wire = shot.Bytes
	seen := shot.Frame.RGBA()
	previous := d.prev
	d.prev = seen

	name := path.Join(w.Slug, l.File+".png")
	if err := j.keep(name, seen); err != nil {
		return rec, err
	}
	rec.Capture, rec.Pixels = name, picture.Hash(seen)
	if approved == nil {
		rec.Verdict = record.Unapproved
		return rec, nil
	}
	rec.GoldenPixels = entry.SHA256
	if known != nil && known.SameShape(shot.Frame) && string(known.Pix) == string(shot.Frame.Pix) {
		rec.Verdict, rec.Golden = record.Same, name
		return rec, nil
	}
	opts := compare.Options{Previous: previous}
	for _, ig := range l.Ignore {
		opts.Ignore = append(opts.Ignore, ig.Rect)
	}
	res := compare.Compare(approved, seen, opts)
	rec.Verdict = record.Same
	if !res.Same {
		rec.Verdict, rec.Finding = record.Differs, &res
	}
	rec.Golden = path.Join(w.Slug, l.File+".golden.png")
	return rec, j.keep(rec.Golden, approved)
}

// keep writes a picture into the run's folder.
func (j *judge) keep(name string, img image.Image) error {
	file := filepath.Join(j.runDir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(file), 0o777); err != nil {
		return fmt.Errorf("keep a capture: %w", err)
	}
	if err := picture.WritePNG(file, img); err != nil {
		return fmt.Errorf("keep a capture: %w", err)
	}
	return nil
}
