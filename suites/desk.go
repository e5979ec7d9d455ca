package suites

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites/record"
)

// A Desk is a run laid out for approving. The command and the review page approve through it, so that
// both take only what the run captured, on walks that are unchanged since, over the golden that was
// shown. It may be used by several goroutines.
type Desk struct {
	Run   *record.Run
	Dir   string // the run's folder
	bench string // the bench's folder
	store *golden.Store
}

// A Want asks for a look to be approved: as a whole, or in the regions of its finding with these
// indexes.
type Want struct {
	Look    int   `json:"look"` // index into the run's looks
	Regions []int `json:"regions,omitempty"`
}

// A Deed is an approval that was recorded.
type Deed struct {
	Look    int          `json:"look"`
	Regions []int        `json:"regions,omitempty"` // none: the whole look
	Entry   golden.Entry `json:"entry"`             // of several regions, the last
}

// OpenDesk reads the run in a folder. The store is the one beside its bench, unless another is given.
func OpenDesk(runDir string, store *golden.Store) (*Desk, error) {
	run, err := record.Load(runDir)
	if err != nil {
		return nil, err
	}
	if filepath.IsAbs(filepath.FromSlash(run.Dir)) {
		return nil, fmt.Errorf("%s names its bench's folder %q by an absolute path: run the walks here, then approve", filepath.Join(runDir, record.File), run.Dir)
	}
	d := &Desk{Run: run, Dir: runDir, bench: filepath.Join(runDir, filepath.FromSlash(run.Dir)), store: store}
	if d.store == nil {
		if d.store, err = golden.Open(filepath.Join(d.bench, GoldenDir)); err != nil {
			return nil, err
		}
	}
	return d, nil
}

// Open reports whether a look is one that can be approved.
//
// What differs on the glass alone is none: the framebuffer is the golden already.
func Open(l record.Look) bool {
	return l.Verdict == record.Unapproved || l.Verdict == record.Differs && (l.Photo == nil || !l.Photo.Glass)
}

// maxPicture bounds a picture's file.
const maxPicture = 64 << 20

// Picture reads a picture of the run's folder, and proves it against the hash that was recorded. Nothing
// outside the folder is read, through links neither.
func (d *Desk) Picture(file, pixels string) (image.Image, error) {
	img, _, err := d.PictureFile(file, pixels)
	return img, err
}

// PictureFile is Picture with the file's bytes.
func (d *Desk) PictureFile(file, pixels string) (image.Image, []byte, error) {
	at := filepath.Join(d.Dir, filepath.FromSlash(file))
	if file == "" {
		return nil, nil, errors.New("the run has no such picture")
	}
	root, err := os.OpenRoot(d.Dir)
	if err != nil {
		return nil, nil, err
	}
	defer root.Close()
	f, err := root.Open(filepath.FromSlash(file))
	if err != nil {
		return nil, nil, fmt.Errorf("read %s: %w", at, err)
	}
	defer f.Close()
	if info, err := f.Stat(); err == nil && info.Size() > maxPicture { // before any of it is in memory
		return nil, nil, fmt.Errorf("%s is larger than %d bytes", at, maxPicture)
	}
	data, err := io.ReadAll(io.LimitReader(f, maxPicture))
	if err != nil {
		return nil, nil, fmt.Errorf("read %s: %w", at, err)
	}
	img, err := picture.Decode(bytes.NewReader(data), at)
	if err != nil {
		return nil, nil, err
	}
	if picture.Hash(img) != pixels {
		return nil, nil, fmt.Errorf("%s is not the picture that was captured: it was changed after the run", at)
	}
	return img, data, nil
}

// Approve records what is wanted, all of it or nothing. A look of which every region is approved,
// before or now, becomes the golden as a whole; regions that are approved already are left out. The
// error is golden.ErrUnfinished if everything is recorded and some picture has yet to get its place.
func (d *Desk) Approve(wants []Want, who, why string, now time.Time) ([]Deed, error) {
	var list []golden.Approval
	var deeds []Deed
	var last []int // of each deed, its last approval
	var looks []record.Look
	seen := map[int]bool{}
	for _, w := range wants {
		if w.Look < 0 || w.Look >= len(d.Run.Looks) || seen[w.Look] {
			return nil, fmt.Errorf("look %d is named twice, or the run has no such look", w.Look)
		}
		seen[w.Look] = true
		looks = append(looks, d.Run.Looks[w.Look])
	}
	if err := unchanged(d.bench, d.Run, looks); err != nil {
		return nil, err
	}
	read, err := d.store.Read()
	if err != nil {
		return nil, err
	}
	for i, w := range wants {
		more, regions, err := d.approvals(read, looks[i], w)
		if err != nil {
			return nil, err
		}
		if len(more) == 0 {
			continue
		}
		for j := range more {
			more[j].Who, more[j].Why, more[j].When = who, why, now
		}
		list = append(list, more...)
		deeds = append(deeds, Deed{Look: w.Look, Regions: regions})
		last = append(last, len(list)-1)
	}
	entries, err := d.store.Approve(list)
	if err != nil && !errors.Is(err, golden.ErrUnfinished) {
		return nil, err
	}
	for i := range deeds {
		if err == nil && len(entries) == len(list) {
			deeds[i].Entry = entries[last[i]]
		}
	}
	return deeds, err
}

// approvals makes what the store needs of one want, and tells the regions, none for the whole look.
func (d *Desk) approvals(read *golden.Reading, l record.Look, w Want) ([]golden.Approval, []int, error) {
	if l.Photo != nil && l.Photo.Glass {
		return nil, nil, fmt.Errorf("look %q of walk %q differs on the glass alone: its framebuffer is approved already", l.Look, l.Walk)
	}
	if !Open(l) {
		return nil, nil, fmt.Errorf("look %q of walk %q is %s: only looks that differ or have no golden are approved", l.Look, l.Walk, l.Verdict)
	}
	img, err := d.Picture(l.Capture, l.Pixels)
	if err != nil {
		return nil, nil, err
	}
	saw, err := d.saw(read, l)
	if err != nil {
		return nil, nil, err
	}
	dev := d.Run.Device
	whole := golden.Approval{Target: d.Run.Target, Walk: l.Walk, Look: l.Look, Picture: img, Saw: saw,
		Run: d.Run.Run, Device: dev.Device, Build: dev.Build, Library: dev.Library}
	if len(w.Regions) == 0 {
		return []golden.Approval{whole}, nil, nil
	}
	if l.Finding == nil {
		return nil, nil, fmt.Errorf("look %q of walk %q has no golden, so no regions: approve it as a whole", l.Look, l.Walk)
	}
	_, approved, err := read.Recorded(d.Run.Target, l.Walk, l.Look)
	if err != nil {
		return nil, nil, err
	}
	have := map[int]bool{}
	for _, r := range approvedRegions(l, picture.Pix(img), approved) {
		have[r] = true
	}
	var todo []int
	for _, r := range w.Regions {
		if r < 0 || r >= len(l.Finding.Regions) {
			return nil, nil, fmt.Errorf("look %q of walk %q has no region %d", l.Look, l.Walk, r+1)
		}
		if !have[r] {
			have[r] = true
			todo = append(todo, r)
		}
	}
	if len(have) == len(l.Finding.Regions) {
		return []golden.Approval{whole}, nil, nil
	}
	var out []golden.Approval
	for _, r := range todo {
		a, box := whole, l.Finding.Regions[r].Rect()
		a.Region = &box
		out = append(out, a)
	}
	return out, todo, nil
}
