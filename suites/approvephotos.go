package suites

import (
	"errors"
	"fmt"
	"time"

	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites/record"
)

// ApprovePhotos makes photos of a run the goldens that later photos of the same bench are held against: of looks that fit the
// pattern, "" being any, whose framebuffer is as approved. The run is one of a bench with golden: photo.
func ApprovePhotos(runDir, look, who, why string, now time.Time) (*Desk, []Deed, error) {
	d, err := OpenDesk(runDir, nil)
	if err != nil {
		return nil, nil, err
	}
	store, err := d.store.Photos(d.Run.Bench)
	if err != nil {
		return d, nil, err
	}
	var list []golden.Approval
	var deeds []Deed
	var looks []record.Look
	for i, l := range d.Run.Looks {
		if ok, err := (Choice{Look: look}).has(l); err != nil {
			return d, nil, err
		} else if p := l.Photo; !ok || p == nil || p.Pixels == "" || l.Verdict != record.Same && !p.Glass || p.Pixels == p.Golden {
			continue
		}
		img, err := d.Picture(l.Photo.Panel, l.Photo.Pixels)
		if err != nil {
			return d, nil, err
		}
		saw := l.Photo.Golden
		if saw == "" {
			saw = golden.NoGolden
		}
		dev := d.Run.Device
		list = append(list, golden.Approval{Target: d.Run.Target, Walk: l.Walk, Look: l.Look, Picture: img, Saw: saw, Who: who, Why: why, When: now,
			Run: d.Run.Run, Device: dev.Device, Build: dev.Build, Library: dev.Library})
		deeds, looks = append(deeds, Deed{Look: i}), append(looks, l)
	}
	if len(list) == 0 {
		return d, nil, fmt.Errorf("run %s has no photo to approve that fits: they are kept where bench.yaml says camera: {golden: photo} and the framebuffer is as approved", d.Run.Run)
	}
	if err := unchanged(d.bench, d.Run, looks); err != nil {
		return d, nil, err
	}
	entries, err := store.Approve(list)
	if err != nil && !errors.Is(err, golden.ErrUnfinished) {
		return d, nil, err
	}
	for i := range deeds {
		if err == nil && len(entries) == len(list) {
			deeds[i].Entry = entries[i]
		}
	}
	return d, deeds, err
}
