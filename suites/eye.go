package suites

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"os"
	"path"
	"path/filepath"

	"github.com/fascia-bench/fascia/capture/bench"
	"github.com/fascia-bench/fascia/capture/camera"
	"github.com/fascia-bench/fascia/capture/camera/align"
	"github.com/fascia-bench/fascia/capture/link"
	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare/photo"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites/record"
)

// An eye is the bench's camera in a run: what the framebuffer cannot say of a look, its photo does.
type eye struct {
	source *camera.Source
	optics *photo.Optics
	bench  *bench.Camera
	photos *golden.Store // goldens for photos; nil where dumps serve
	warned map[string]bool
	note   func(string)
}

// openEye opens the bench's camera; nil for a bench without one.
func openEye(b *bench.Bench, store *golden.Store, h link.Hello, note func(string)) (*eye, error) {
	c := b.Camera
	if c == nil {
		return nil, nil
	}
	if err := c.Fits(h); err != nil {
		return nil, err
	}
	optics, err := align.Load(c)
	if err != nil {
		return nil, err
	}
	source, err := c.Open()
	if err != nil {
		return nil, err
	}
	e := &eye{source: source, optics: optics, bench: c, warned: map[string]bool{}, note: note}
	if c.Golden == "photo" {
		if e.photos, err = store.Photos(b.Name); err != nil {
			return nil, errors.Join(err, source.Close())
		}
	}
	return e, nil
}

func (e *eye) close() {
	if e != nil {
		_ = e.source.Close() // the run is over, and its verdicts do not depend on it
	}
}

// photo takes a photo; what makes it worth less is told once.
func (e *eye) photo(ctx context.Context) (image.Image, error) {
	m, err := e.source.Photo(ctx)
	for _, w := range e.source.Warnings {
		e.once("camera: " + w)
	}
	return m, err
}

// once notes what has not been noted before.
func (e *eye) once(text string) {
	if !e.warned[text] {
		e.warned[text] = true
		e.note(text)
	}
}

// glass holds a photo of the panel against a look's golden, and adds to the look what that says. The framebuffer is
// exact, so what it differs by stands; what it cannot know, the photo adds. An error means that there is no
// photo at all.
func (j *judge) glass(ctx context.Context, d *driver, w *Walk, l TakeLook, rec *record.Look) error {
	shot, err := j.eye.photo(ctx)
	if err != nil {
		return err
	}
	if rec.Verdict != record.Same && rec.Verdict != record.Differs {
		return nil // there is nothing yet that the panel should show
	}
	seen := &record.Photo{}
	rec.Photo = seen
	stem := path.Join(w.Slug, l.File)
	keep := func() error {
		var data bytes.Buffer
		if err := jpeg.Encode(&data, shot, &jpeg.Options{Quality: 92}); err != nil {
			return fmt.Errorf("keep a photo: %w", err)
		}
		seen.File = stem + ".photo.jpg"
		return os.WriteFile(filepath.Join(j.runDir, filepath.FromSlash(seen.File)), data.Bytes(), 0o666)
	}
	opt := photo.Options{FalseAlarm: j.eye.bench.FalseAlarm}
	for _, ig := range l.Ignore {
		opt.Ignore = append(opt.Ignore, ig.Rect)
	}
	for _, b := range rec.Approved {
		opt.Ignore = append(opt.Ignore, b.Rect())
	}
	// What was forgiven in the framebuffer is on the glass as well, so the glass is held against that.
	want := d.prevGolden
	if rec.Verdict == record.Same {
		want = d.prev
		if want, opt.GoldenIsPhoto, err = j.earlier(w, l, rec, want); err != nil {
			rec.Verdict, rec.Why = record.NoCapture, err.Error()
			return keep()
		}
	}
	res, err := j.eye.optics.Compare(want, shot, opt)
	if photo.IsNoCapture(err) {
		seen.Why = err.Error()
		if rec.Verdict == record.Differs {
			rec.Warnings = append(rec.Warnings, seen.Why)
		} else {
			rec.Verdict, rec.Why = record.NoCapture, seen.Why
		}
		return keep()
	}
	if err != nil {
		return err
	}
	seen.Same, seen.Chance, seen.Move, seen.Gain = res.Same, res.Chance, res.Move, res.Gain
	rec.Warnings = append(rec.Warnings, res.Warnings...)
	same := rec.Verdict == record.Same && res.Same
	if same && j.eye.photos == nil && j.eye.bench.Keep != "all" {
		return nil
	}
	seen.Panel = stem + ".glass.png"
	if err := j.keep(seen.Panel, res.Picture); err != nil {
		return err
	}
	if j.eye.photos != nil {
		seen.Pixels = picture.Hash(res.Picture)
	}
	if same {
		return nil
	}
	if rec.Verdict == record.Same {
		rec.Verdict, rec.Finding = record.Differs, &res.Result
		seen.Glass, rec.Capture = true, seen.Panel
		rec.Why = "the framebuffer is as approved: what differs is on the glass, or before it"
	}
	return keep()
}

// earlier is what a look's photo is held against on a bench whose goldens are photos: the one that was approved, else the
// dump. An error tells of a golden that is none.
func (j *judge) earlier(w *Walk, l TakeLook, rec *record.Look, dump image.Image) (want image.Image, isPhoto bool, err error) {
	if j.eye.photos == nil {
		return dump, false, nil
	}
	approved, entry, err := j.eye.photos.Get(j.target, w.Name, l.Name)
	if errors.Is(err, golden.ErrNoGolden) {
		rec.Warnings = append(rec.Warnings, "this bench's goldens are photos and the look has none yet, so its photo is held against the dump: fascia approve --photos")
		return dump, false, nil
	}
	if err != nil {
		return nil, false, err
	}
	rec.Photo.Golden = entry.SHA256
	return approved, true, nil
}
