package golden

import (
	"errors"
	"fmt"
	"image"

	"github.com/fascia-bench/fascia/capture/picture"
)

// Region is an approved region of a look that still has its old golden.
type Region struct {
	Box    image.Rectangle // in pixels of the panel
	SHA256 string          // picture.Hash of the approved pixels in the box
	Entry  Entry           // the approval
}

// Approved returns the regions approved since the golden of a look came about, oldest first. Where the
// golden is inherited, regions approved on the target that it comes from count, too.
func (s *Store) Approved(target, walk, look string) ([]Region, error) {
	k, err := s.key(target, walk, look)
	if err != nil {
		return nil, err
	}
	led, err := s.load()
	if err != nil {
		return nil, err
	}
	return s.approved(led, k)
}

// Reading is the ledger as it stood at one moment, for questions about many looks.
type Reading struct {
	store *Store
	led   *ledger
}

// Read reads the ledger.
func (s *Store) Read() (*Reading, error) {
	led, err := s.load()
	if err != nil {
		return nil, err
	}
	return &Reading{s, led}, nil
}

// Recorded tells what the ledger says of a look, without looking at its picture: the hash of the golden
// in force, its own or inherited, "" if it has none, and the regions approved since.
func (r *Reading) Recorded(target, walk, look string) (sha256 string, regions []Region, err error) {
	k, err := r.store.key(target, walk, look)
	if err != nil {
		return "", nil, err
	}
	if sha256, err = r.store.inForce(r.led, k); err != nil {
		return "", nil, fmt.Errorf("golden %q: %w", r.store.at(k.file()), err)
	}
	regions, err = r.store.approved(r.led, k)
	return sha256, regions, err
}

func (s *shared) approved(led *ledger, k key) ([]Region, error) {
	targets, err := s.lineage(k.target)
	if err != nil {
		return nil, err
	}
	var out []Region
	for _, k.target = range targets {
		goldens, regions := led.chain(k).current()
		for _, e := range regions {
			out = append(out, Region{Box: e.Box.Rect(), SHA256: e.SHA256, Entry: e})
		}
		if _, withdrawn := led.chain(k).withdrawn(); len(goldens) > 0 && !withdrawn {
			break
		}
	}
	return out, nil
}

// Settled reports whether nothing but approved regions tells the capture from the golden: every
// differing pixel lies in an approved box whose pixels in the capture are the approved ones. A capture
// of another size is never settled, nor is one without any difference.
func (s *Store) Settled(target, walk, look string, capture image.Image) (bool, error) {
	golden, _, err := s.Get(target, walk, look)
	if err != nil {
		return false, err
	}
	regions, err := s.Approved(target, walk, look)
	if err != nil {
		return false, err
	}
	return settled(picture.Pix(golden), picture.Pix(capture), regions), nil
}

func settled(golden, capture *image.NRGBA, regions []Region) bool {
	if golden.Rect != capture.Rect {
		return false
	}
	var boxes []image.Rectangle
	for _, r := range regions {
		if r.Box.In(capture.Rect) && picture.Hash(capture.SubImage(r.Box)) == r.SHA256 {
			boxes = append(boxes, r.Box)
		}
	}
	differs := false
	for y := range golden.Rect.Dy() {
	pixels:
		for x := range golden.Rect.Dx() {
			if golden.NRGBAAt(x, y) == capture.NRGBAAt(x, y) {
				continue
			}
			differs = true
			for _, b := range boxes {
				if image.Pt(x, y).In(b) {
					continue pixels
				}
			}
			return false
		}
	}
	return differs
}

// asRegion turns the entry of a region approval into a line of the ledger: the golden stays. If the
// capture was settled by earlier approvals, it becomes the golden instead, as a whole.
func (s *shared) asRegion(led *ledger, k key, r ready, e *Entry) error {
	old, was, err := s.lookup(led, k)
	if errors.Is(err, ErrNoGolden) {
		return fmt.Errorf("there is no golden that a region could differ from, approve the whole look first: %w", err)
	}
	if err != nil {
		return err
	}
	golden, box := picture.Pix(old), *r.Region
	switch {
	case golden.Rect != r.pix.Rect:
		return fmt.Errorf("golden and capture differ in size (%v, %v), approve the whole look: %w", golden.Rect.Size(), r.pix.Rect.Size(), ErrApproval)
	case box.Empty() || !box.In(golden.Rect):
		return fmt.Errorf("region %v is not within the panel's %v pixels: %w", box, golden.Rect.Size(), ErrApproval)
	}
	regions, err := s.approved(led, k)
	if err != nil {
		return err
	}
	if settled(golden, r.pix, regions) {
		e.SHA256, e.Replaced = r.hash, was.SHA256
		return nil
	}
	e.Box = boxOf(box)
	e.SHA256 = picture.Hash(r.pix.SubImage(box))
	e.Replaced = picture.Hash(golden.SubImage(box))
	if e.SHA256 == e.Replaced {
		return fmt.Errorf("golden and capture are the same in region %v, nothing to approve: %w", box, ErrApproval)
	}
	return nil
}
