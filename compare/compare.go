// Package compare holds a capture of a panel against its golden and says whether
// they are the same, where they differ and what probably happened.
//
// Images go in, findings come out; where the images came from is not known here.
// Pixel (0, 0) is the top left of the picture, whatever its Bounds.
//
// The verdict is exact and is made first: one differing pixel outside the ignored
// rectangles is a difference. The explanation is sought only for pictures that
// differ and never changes the verdict.
//
// # Pixels
//
// A panel has no alpha: pixels are what is seen when the picture lies on black.
// Colours are compared as 8 bits a channel. Of a picture with 16 bits a channel the
// low bytes count as well: two such pictures that differ in low bytes only differ.
// Between an 8-bit and a 16-bit picture, a low byte must be what widening an 8-bit
// value gives, which is a copy of the high byte, or zero in the whole picture
// (programs widen in both ways). RGB565 is expanded by bit replication (v<<3 | v>>2).
//
// # Ignored pixels
//
// They never make a difference, and neither support nor refute a cause. SSIM sees
// the golden's pixels there.
package compare

import (
	"fmt"
	"image"
)

// Options of a comparison. The zero value compares every pixel exactly.
type Options struct {
	// Ignore lists rectangles in panel coordinates whose pixels do not count.
	// Parts that lie off the panel mean nothing.
	Ignore []image.Rectangle
	// Previous is what the look before showed, by which `stale` and `torn` are
	// told; nil when it is not known.
	Previous image.Image
	// PreviousGolden is what the look before should have shown. With it, what stands still
	// though it should have changed is told from what was to stay; nil when not known.
	PreviousGolden image.Image
	// Tolerances forgive differences; without any, comparison is exact.
	Tolerances []Tolerance
	// Parts asks for the causes of parts only, and no SSIM: for many pairs, of which the whole panel was looked
	// at already or is not in question.
	Parts bool
}

// Result is the outcome of a comparison; it marshals to the JSON of `compare --json`.
type Result struct {
	// Same is the verdict: no pixel outside the ignored rectangles differs.
	Same bool `json:"same"`
	// SSIM is the mean over the valid area, of luma; nil where it is not defined
	// (another size, or a side under 11 px).
	SSIM *float64 `json:"ssim"`
	// SSIMMin is the score of the worst window, and SSIMMinAt the pixel at its centre.
	SSIMMin   *float64 `json:"ssim_min"`
	SSIMMinAt *[2]int  `json:"ssim_min_at,omitempty"`
	Size      Sizes    `json:"size"`
	// Changed counts the differing pixels outside the ignored rectangles; it is 0
	// where sizes differ, since no pixel can be held against another.
	Changed int `json:"changed"`
	// Causes are all causes present, the weightiest first.
	Causes []Cause `json:"causes"`
	// Regions are tight boxes of differing pixels in reading order.
	Regions []Region `json:"regions"`
	// Relaxed lists the tolerances that forgave something. SSIM knows of none.
	Relaxed []Relaxed `json:"relaxed,omitempty"`
	// Warnings tell what makes the verdict worth less than it seems.
	Warnings []string `json:"warnings,omitempty"`
}

// Sizes gives width and height of both pictures.
type Sizes struct {
	Golden  [2]int `json:"golden"`
	Capture [2]int `json:"capture"`
}

// Detail holds the figures of a cause, by the names of the cause tables: dx and dy
// of `moved`, from and to of `recoloured` and so on. Numbers are int or float64.
type Detail map[string]any

// Cause is a named explanation of a difference.
type Cause struct {
	Cause string `json:"cause"`
	// Confidence is the share of like cases in which this cause would be right, by
	// our own labelled pairs; between 0 and 1.
	Confidence float64 `json:"confidence"`
	Detail     Detail  `json:"detail"`
	// With lists further whole-panel faults at work at the same time, in order of
	// application after this one.
	With []Cause `json:"with,omitempty"`
	// Instead lists rival explanations that fit as well or nearly.
	Instead []Cause `json:"instead,omitempty"`
	// Says is the finding in one sentence.
	Says string `json:"says"`
}

// Region is a tight box of differing pixels; differing pixels up to 5 px apart
// share a region.
type Region struct {
	X          int     `json:"x"`
	Y          int     `json:"y"`
	W          int     `json:"w"`
	H          int     `json:"h"`
	Cause      string  `json:"cause"`
	Confidence float64 `json:"confidence"`
	Detail     Detail  `json:"detail"`
	Instead    []Cause `json:"instead,omitempty"`
	Says       string  `json:"says"`
}

// Rect gives the region's box in panel coordinates.
func (r Region) Rect() image.Rectangle { return image.Rect(r.X, r.Y, r.X+r.W, r.Y+r.H) }

// maxPixels bounds the pictures that are compared, so that an image with absurd
// bounds costs an answer and not the machine's memory.
const maxPixels = 1 << 26

// Compare holds capture against golden. It never fails: a picture that is nil counts
// as one without pixels, and one over 64 million pixels differs from any other.
func Compare(golden, capture image.Image, opt Options) Result {
	gs, cs := sizeOf(golden), sizeOf(capture)
	res := Result{
		Size:    Sizes{Golden: [2]int{gs.X, gs.Y}, Capture: [2]int{cs.X, cs.Y}},
		Causes:  []Cause{},
		Regions: []Region{},
	}
	if tooLarge(gs) || tooLarge(cs) {
		res.Causes = append(res.Causes, tooLargeCause())
		return res
	}
	g, c := load(golden), load(capture)
	if gs != cs {
		res.Causes = explainSizes(g, c)
		return res
	}
	p := newPair(g, c, opt.Ignore)
	if !opt.Parts {
		res.setSSIM(p)
	}
	res.Relaxed = p.relax(opt.Tolerances)
	res.Changed = p.changed
	res.Same = p.changed == 0
	if n := p.ignoredPixels(); 2*n > len(g.px) {
		res.Warnings = append(res.Warnings, fmt.Sprintf("%d of %d px are ignored, more than half the panel", n, len(g.px)))
	}
	if res.Same {
		return res
	}
	if prev := opt.Previous; prev != nil && sizeOf(prev) == gs {
		p.prev = load(prev)
		if was := opt.PreviousGolden; was != nil && sizeOf(was) == gs {
			p.was = load(was)
		}
	}
	res.Causes, res.Regions = p.explain(opt.Parts)
	return res
}

func (r *Result) setSSIM(p *pair) {
	mean, low, at, ok := ssimPair(p)
	if !ok {
		return
	}
	r.SSIM, r.SSIMMin = &mean, &low
	r.SSIMMinAt = &[2]int{at.X, at.Y}
}

func sizeOf(m image.Image) image.Point {
	if m == nil {
		return image.Point{}
	}
	s := m.Bounds()
	if s.Empty() {
		return image.Point{}
	}
	return s.Size()
}

func tooLarge(s image.Point) bool {
	return s.X > 0 && s.Y > 0 && s.X > maxPixels/s.Y
}
