package suites

import (
	"errors"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"slices"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites/record"
)

// Standing is how a look of the run stands with the golden store now.
type Standing struct {
	// Approved: the capture is the golden by now.
	Approved bool `json:"approved,omitempty"`
	// Stale: the golden is another than the run was held against, and not this capture.
	Stale bool `json:"stale,omitempty"`
	// Regions are those of the finding that are approved as captured.
	Regions []int `json:"regions,omitempty"`
}

// Standings tells how each look that could be approved stands with the store, by its index.
func (d *Desk) Standings() (map[int]Standing, error) {
	read, err := d.store.Read()
	if err != nil {
		return nil, err
	}
	out := map[int]Standing{}
	for i, l := range d.Run.Looks {
		if !Open(l) {
			continue
		}
		if out[i], err = d.standing(read, l); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func (d *Desk) standing(read *golden.Reading, l record.Look) (Standing, error) {
	var s Standing
	now, regions, err := read.Recorded(d.Run.Target, l.Walk, l.Look)
	if errors.Is(err, golden.ErrForked) {
		now, err = "", nil
	}
	if err != nil {
		return s, err
	}
	if now == l.Pixels {
		s.Approved = true
		return s, nil
	}
	saw, err := d.saw(read, l)
	if err != nil {
		return s, err
	}
	if s.Stale = now != saw && !(now == "" && saw == golden.NoGolden); s.Stale || len(regions) == 0 || l.Finding == nil {
		return s, nil
	}
	img, err := d.Picture(l.Capture, l.Pixels)
	if err != nil {
		return s, nil // whoever opens or approves the look is told
	}
	s.Regions = approvedRegions(l, picture.Pix(img), regions)
	return s, nil
}

// approvedRegions returns the indexes of regions that lie in approved boxes with the approved pixels.
func approvedRegions(l record.Look, capture *image.NRGBA, approved []golden.Region) []int {
	var boxes []image.Rectangle
	for _, a := range approved {
		if a.Box.In(capture.Rect) && picture.Hash(capture.SubImage(a.Box)) == a.SHA256 {
			boxes = append(boxes, a.Box)
		}
	}
	var out []int
	for i, r := range l.Finding.Regions {
		if slices.ContainsFunc(boxes, func(b image.Rectangle) bool { return r.Rect().In(b) }) {
			out = append(out, i)
		}
	}
	return out
}

// saw is the golden that the run held the look against. Where the run found a golden that was not what
// somebody had approved, it is the one that should have been there: approving mends it.
func (d *Desk) saw(read *golden.Reading, l record.Look) (string, error) {
	if l.GoldenPixels != "" {
		return l.GoldenPixels, nil
	}
	log, err := read.Log(d.Run.Target, l.Walk, l.Look)
	if err != nil {
		return "", err
	}
	for _, e := range slices.Backward(log) {
		if e.Box == nil && e.When.Before(d.Run.Started) {
			if e.Withdrawn {
				break
			}
			now, _, err := read.Recorded(d.Run.Target, l.Walk, l.Look)
			if errors.Is(err, golden.ErrForked) {
				break // approving settles it
			}
			if err == nil && now == e.SHA256 {
				return now, nil
			}
			break
		}
	}
	return golden.NoGolden, nil
}

// WalkChanged tells of each walk of the run why its looks cannot be approved any more, "" if they can.
func (d *Desk) WalkChanged() map[string]string {
	out, told := map[string]string{}, map[[2]string]bool{}
	for _, w := range d.Run.Walks {
		if told[[2]string{w.File, w.Hash}] { // as it was for another walk of that file
			continue
		}
		told[[2]string{w.File, w.Hash}] = true
		if err := unchanged(d.bench, &record.Run{Walks: []record.Walk{w}}, []record.Look{{Walk: w.Walk}}); err != nil {
			out[w.Walk] = err.Error()
		}
	}
	return out
}

// unchanged checks that the walks of the looks are those that were walked.
func unchanged(dir string, run *record.Run, looks []record.Look) error {
	for _, w := range run.Walks {
		if !slices.ContainsFunc(looks, func(l record.Look) bool { return l.Walk == w.Walk }) {
			continue
		}
		file := filepath.Join(dir, filepath.FromSlash(w.File))
		if !inside(dir, file) {
			return fmt.Errorf("walk %q lies outside the bench's folder %s", w.Walk, dir)
		}
		now, err := hashNow(dir, file, 50)
		if errors.Is(err, os.ErrNotExist) {
			return fmt.Errorf("walk %q is gone: there is no %s any more", w.Walk, file)
		}
		if err != nil {
			return err
		}
		if now != w.Hash {
			return fmt.Errorf("walk %q was changed after the run: run it again, then approve", w.Walk)
		}
	}
	return nil
}
