package suites

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"time"

	"github.com/fascia-bench/fascia/capture"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites/record"
)

// A judge holds looks against goldens and keeps the pictures.
type judge struct {
	store   *golden.Store
	goldens string // the store's folder
	target  string
	runDir  string
	today   time.Time
	eye     *eye // the bench's camera; nil without one
}

// look takes a look of a walk: captured, stored and judged, by the framebuffer and, if the bench has a camera, by
// a photo. An error means that there is no capture, or that it could not be kept.
func (j *judge) look(ctx context.Context, d *driver, w *Walk, l TakeLook, line int) (record.Look, error) {
	rec, err := j.dump(ctx, d, w, l, line)
	if err == nil && j.eye != nil {
		err = j.glass(ctx, d, w, l, &rec)
	}
	return rec, err
}

// dump takes a look over the link.
func (j *judge) dump(ctx context.Context, d *driver, w *Walk, l TakeLook, line int) (rec record.Look, err error) {
	rec = record.Look{Walk: w.Name, Look: l.Name, Line: line, Note: l.Note, Path: d.path, Verdict: record.NoCapture}
	defer func() {
		if rec.Verdict != record.Same {
			rec.Log = d.log.since(d.looked)
		}
		d.looked = d.log.count()
	}()
	d.path = nil
	for _, ig := range l.Ignore {
		r := ig.Rect
		rec.Ignored = append(rec.Ignored, record.Ignored{Area: ig.Area, X: r.Min.X, Y: r.Min.Y, W: r.Dx(), H: r.Dy(), Why: ig.Why})
	}
	if h := d.dev.Hello(); covers(l.Ignore, h.Width, h.Height) {
		rec.Warnings = append(rec.Warnings, "more than half of the panel is ignored")
	}
	if l.Aside != nil {
		rec.Aside = &record.Aside{Until: l.Aside.Until.Format(time.DateOnly), Why: l.Aside.Why, Past: j.today.Format(time.DateOnly) > l.Aside.Until.Format(time.DateOnly)}
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
	if err == nil {
		err = errors.Join(d.log.died(), d.alive.saw(d.dev, l.Name))
	}
	if err != nil {
		return rec, err
	}
	if rec.Moving = shot.Moving; shot.Moving {
		if rec.Why, err = d.moving(ctx, l.Settle.Latest); err != nil {
			return rec, err
		}
	}
	if rec.Gauges, err = gauges(ctx, d.dev); err != nil {
		return rec, err
	}
	d.seen = l.Name
	rec.Settle = shot.Took.Seconds()
	rec.At = (d.dev.Now() - d.start).Seconds()
	rec.Wire = shot.Bytes
	previous, previousGolden := d.prev, d.prevGolden
	name := path.Join(w.Slug, l.File+".png")
	rec.Capture = name
	if known != nil && known.SameShape(shot.Frame) && bytes.Equal(known.Pix, shot.Frame.Pix) {
		rec.Verdict, rec.Golden = record.Same, name
		rec.Pixels, rec.GoldenPixels = entry.SHA256, entry.SHA256
		d.prev, d.prevGolden = approved, approved
		return rec, j.keepGolden(name, entry, w, l, approved)
	}
	seen := shot.Frame.RGBA()
	d.prev, d.prevGolden = seen, approved
	rec.Pixels = picture.Hash(seen)
	if err := j.keep(name, seen); err != nil {
		return rec, err
	}
	if approved == nil {
		rec.Verdict = record.Unapproved
		return rec, nil
	}
	rec.GoldenPixels = entry.SHA256
	opts := compare.Options{Previous: previous, PreviousGolden: previousGolden, Tolerances: l.Allow}
	for _, ig := range l.Ignore {
		opts.Ignore = append(opts.Ignore, ig.Rect)
	}
	if rec.Approved, err = j.regions(w, l, seen); err != nil {
		return rec, err
	}
	for _, b := range rec.Approved { // their pixels are right, though the golden does not have them yet
		opts.Ignore = append(opts.Ignore, b.Rect())
	}
	res := compare.Compare(approved, seen, opts)
	rec.Verdict, rec.Relaxed = record.Same, res.Relaxed
	if !res.Same {
		rec.Verdict, rec.Finding = record.Differs, &res
	}
	rec.Golden = path.Join(w.Slug, l.File+".golden.png")
	return rec, j.keepGolden(rec.Golden, entry, w, l, approved)
}

// regions are the approved regions of a look whose approved pixels a capture shows.
func (j *judge) regions(w *Walk, l TakeLook, seen *image.RGBA) ([]golden.Box, error) {
	list, err := j.store.Approved(j.target, w.Name, l.Name)
	if err != nil {
		return nil, err
	}
	var boxes []golden.Box
	for _, r := range list {
		if r.Box.In(seen.Rect) && picture.Hash(seen.SubImage(r.Box)) == r.SHA256 {
			boxes = append(boxes, golden.Box{r.Box.Min.X, r.Box.Min.Y, r.Box.Dx(), r.Box.Dy()})
		}
	}
	return boxes, nil
}

// covers reports whether ignored areas are more than half of the panel.
func covers(list []ignored, width, height int) bool {
	if len(list) == 0 {
		return false
	}
	n := 0
	for y := range height {
		for x := range width {
			if slices.ContainsFunc(list, func(ig ignored) bool { return image.Pt(x, y).In(ig.Rect) }) {
				n++
			}
		}
	}
	return 2*n > width*height
}

// gauges are the figures that the device names, if it does.
func gauges(ctx context.Context, dev Device) (map[string]int64, error) {
	if !dev.Hello().Has(link.CanList) {
		return nil, nil
	}
	items, err := dev.List(ctx, link.Gauges)
	if err != nil {
		return nil, err
	}
	figures := map[string]int64{}
	for _, item := range items {
		if v, err := strconv.ParseInt(item.Value, 10, 64); err == nil {
			figures[item.Name] = v
		}
	}
	return figures, nil
}

// keepGolden keeps a golden, or a capture that equals it: the golden's file has the same bytes that would
// be written, and copying them is much cheaper than coding them again.
func (j *judge) keepGolden(name string, e golden.Entry, w *Walk, l TakeLook, seen image.Image) error {
	target, err := golden.FileName(e.Target)
	if err != nil {
		return err
	}
	data, err := os.ReadFile(filepath.Join(j.goldens, target, w.Slug, l.File+".png"))
	if err != nil {
		return j.keep(name, seen)
	}
	file := filepath.Join(j.runDir, filepath.FromSlash(name))
	if err := errors.Join(os.MkdirAll(filepath.Dir(file), 0o777), os.WriteFile(file, data, 0o666)); err != nil {
		return fmt.Errorf("keep a capture: %w", err)
	}
	return nil
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
