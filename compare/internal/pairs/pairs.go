// Package pairs makes labelled pairs of pictures for the comparer's tests: a golden, a
// capture with known faults, and where they differ.
//
// It shares no code with the comparer: it has its own pixel arithmetic, draws its own
// screens, and finds the true regions by its own reading of the region rule. Everything
// follows from a seed.
package pairs

import (
	"image"
	"math/rand/v2"
)

// Pair is a golden and a capture with the truth about them.
type Pair struct {
	Golden, Capture *image.RGBA
	// Previous is what the look before showed; nil when the pair comes without.
	Previous *image.RGBA
	// Whole lists the whole-panel faults in order of application; empty for part pairs.
	Whole []Fault
	// Part is the part fault, "" for whole-panel pairs.
	Part Fault
	// Regions are the true boxes.
	Regions []image.Rectangle
	// Screen tells where the pair comes from.
	Screen string
}

// Fault is one cause with its figures, by the names of the cause tables.
type Fault struct {
	Cause  string
	Detail map[string]any
}

// Half tells the screens thresholds are set on from those figures are given for.
type Half int

const (
	Tuning Half = iota
	Judged
)

// WholeFaults and PartFaults are the causes a Source can be asked for.
var (
	WholeFaults = []string{"byte-swapped", "red-blue-swapped", "inverted", "rotated", "mirrored", "shifted", "sheared",
		"rescaled", "tone", "fewer-colours", "blank", "stale", "torn", "composed"}
	PartFaults = []string{"moved", "recoloured", "resized", "text", "edges", "missing", "added"}
)

// Source makes pairs. It is not safe for concurrent use.
type Source struct {
	rng    *rand.Rand
	half   Half
	photos []photo
	fonts  faces
	piece  *image.RGBA // what Small cuts from
	// CutOnly makes part pairs from finished pictures only.
	CutOnly bool
}

type photo struct {
	name string
	img  *image.RGBA
}

// NewSource starts a source of pairs over one half of the screens.
func NewSource(seed uint64, half Half) *Source {
	return &Source{rng: rand.New(rand.NewPCG(seed, 0xfa5c1a+uint64(half))), half: half, fonts: faces{}}
}

// AddPhoto adds a picture that whole-panel faults are also applied to.
func (s *Source) AddPhoto(name string, m image.Image) {
	s.photos = append(s.photos, photo{name, toRGBA(m)})
}

// Whole makes a pair with the whole-panel fault named; "composed" means several at once.
// The pictures always differ.
func (s *Source) Whole(cause string) Pair {
	for {
		if p, ok := s.whole(cause); ok && !equal(p.Golden, p.Capture) {
			p.Regions = TrueRegions(p.Golden, p.Capture)
			return p
		}
	}
}

// Part makes a pair with the part fault named. The pictures always differ.
func (s *Source) Part(cause string) Pair {
	for {
		if p, ok := s.part(cause); ok && !equal(p.Golden, p.Capture) {
			p.Regions = TrueRegions(p.Golden, p.Capture)
			return p
		}
	}
}

// base gives a screen without any fault.
func (s *Source) base() (string, *image.RGBA) {
	if len(s.photos) > 0 && s.rng.IntN(5) == 0 {
		p := s.photos[s.rng.IntN(len(s.photos))]
		return p.name, clone(p.img)
	}
	sc := s.layout()
	return sc.name, sc.draw()
}

func toRGBA(m image.Image) *image.RGBA {
	b := m.Bounds()
	out := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	for y := range b.Dy() {
		for x := range b.Dx() {
			out.Set(x, y, m.At(b.Min.X+x, b.Min.Y+y))
		}
	}
	return out
}

func clone(m *image.RGBA) *image.RGBA {
	out := image.NewRGBA(m.Rect)
	copy(out.Pix, m.Pix)
	return out
}

func equal(a, b *image.RGBA) bool {
	if a.Rect.Size() != b.Rect.Size() {
		return false
	}
	for i := range a.Pix {
		if a.Pix[i] != b.Pix[i] {
			return false
		}
	}
	return true
}
