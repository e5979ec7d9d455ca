package between

import (
	"fmt"
	"image"
	"image/color"
	"sort"
	"sync"

	"github.com/disintegration/imaging"
)

// A boards brings pictures of two boards on to one panel, and remembers in words what it did: panels may
// differ in size, depth and rotation, and what does not survive that cannot be compared.
type boards struct {
	formats [2]string // as the devices said; "" if not known

	mu   sync.Mutex
	said map[string]int // sentences, and on how many looks
}

func (b *boards) say(format string, args ...any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.said == nil {
		b.said = map[string]int{}
	}
	b.said[fmt.Sprintf(format, args...)]++
}

// sentences are what was done, that on the most looks first.
func (b *boards) sentences() []string {
	var out []string
	for s := range b.said {
		out = append(out, s)
	}
	sort.Slice(out, func(i, k int) bool {
		if d := b.said[out[i]] - b.said[out[k]]; d != 0 {
			return d > 0
		}
		return out[i] < out[k]
	})
	return out
}

// A shot is a picture of one board with the areas of it that do not count.
type shot struct {
	m      image.Image
	ignore *image.NRGBA // white where it does not count; nil: everywhere it does
}

func newShot(m image.Image, ignore []image.Rectangle) shot {
	s := shot{m: m}
	if len(ignore) > 0 {
		s.ignore = image.NewNRGBA(image.Rect(0, 0, m.Bounds().Dx(), m.Bounds().Dy()))
		for _, r := range ignore {
			r = r.Intersect(s.ignore.Rect)
			for y := r.Min.Y; y < r.Max.Y; y++ {
				for x := r.Min.X; x < r.Max.X; x++ {
					s.ignore.SetNRGBA(x, y, color.NRGBA{255, 255, 255, 255})
				}
			}
		}
	}
	return s
}

// through brings picture and areas to another panel by the same way.
func (s shot) through(f func(image.Image) *image.NRGBA) shot {
	out := shot{m: f(s.m)}
	if s.ignore != nil {
		out.ignore = f(s.ignore)
	}
	return out
}

func (s shot) size() image.Point { return s.m.Bounds().Size() }

// onOne brings two pictures on to one panel where that can be done; else it leaves them as they are, of two sizes.
// Where they had two sizes, what does not count of either is as before in both.
func (b *boards) onOne(before, after shot) (image.Image, image.Image) {
	s, t := before.size(), after.size()
	if b == nil || s == t && b.formats[0] == b.formats[1] {
		return before.m, after.m
	}
	mapped := s != t
	if s != t && s.X == t.Y && s.Y == t.X {
		right := func(m image.Image) *image.NRGBA { return imaging.Rotate90(m) }
		left := func(m image.Image) *image.NRGBA { return imaging.Rotate270(m) }
		back, turn := right, "clockwise"
		if apart(before.m, left(after.m)) < apart(before.m, right(after.m)) {
			back, turn = left, "anticlockwise"
		}
		after = after.through(back)
		b.say("After is %dx%d and before %dx%d: turned a quarter back, as from a panel turned %s. A picture that was drawn for the other layout cannot be compared so.", t.X, t.Y, s.X, s.Y, turn)
		t = s
	}
	switch big, small := max(s.X, t.X), min(s.X, t.X); {
	case s == t:
	case small*4 >= big && scales(s, t):
		b.say("After is %dx%d and before %dx%d, %.3g times as large: brought to the smaller size. Thin lines, letters' edges and what is smaller than a pixel there cannot be compared.", t.X, t.Y, s.X, s.Y, float64(t.X)/float64(s.X))
		resize := func(to image.Point) func(image.Image) *image.NRGBA {
			return func(m image.Image) *image.NRGBA { return imaging.Resize(m, to.X, to.Y, imaging.Box) }
		}
		if t.X > s.X {
			after = after.through(resize(s))
		} else {
			before = before.through(resize(t))
		}
		after.m = forgiving(before.m, imaging.Clone(after.m))
	case s.Y == t.Y && small*2 >= big, s.X == t.X && min(s.Y, t.Y)*2 >= max(s.Y, t.Y):
		across, way := s.X != t.X, "columns"
		if !across {
			way = "rows"
		}
		b.say("After is %dx%d and before %dx%d: before is made as large, %s taken out or repeated where nothing changes along them. What is drawn anew, wrapped or cut for the size of the panel is told as changed.", t.X, t.Y, s.X, s.Y, way)
		before = before.through(fitting(before, after, across))
	case min(s.X, t.X)*min(s.Y, t.Y)*2 >= max(s.X*s.Y, t.X*t.Y):
		r := image.Rect(0, 0, min(s.X, t.X), min(s.Y, t.Y))
		b.say("After is %dx%d and before %dx%d: the %dx%d px at the top left are compared. What lies beyond, and what is laid out by the size of the panel, cannot be.", t.X, t.Y, s.X, s.Y, r.Dx(), r.Dy())
		crop := func(m image.Image) *image.NRGBA { return imaging.Crop(m, r.Add(m.Bounds().Min)) }
		before, after = before.through(crop), after.through(crop)
	default:
		b.say("After is %dx%d and before %dx%d: another layout, of which nothing can be compared but that the look is there.", t.X, t.Y, s.X, s.Y)
		return before.m, after.m
	}
	before.m, after.m = b.oneDepth(before.m, after.m)
	if mapped {
		after.m = uncounted(before, after)
	}
	return before.m, after.m
}

// uncounted gives after as before is where either does not count.
func uncounted(before, after shot) image.Image {
	if before.ignore == nil && after.ignore == nil {
		return after.m
	}
	was, out := imaging.Clone(before.m), imaging.Clone(after.m)
	for _, m := range []*image.NRGBA{before.ignore, after.ignore} {
		for i := 0; m != nil && i < len(m.Pix); i += 4 {
			if m.Pix[i] > 0 { // an area that was scaled counts as far as it reaches
				copy(out.Pix[i:i+4], was.Pix[i:i+4])
			}
		}
	}
	return out
}

// scales reports whether one size is the other times a factor, to within a pixel.
func scales(s, t image.Point) bool {
	d := s.X*t.Y - s.Y*t.X
	return d <= max(s.X, t.X) && -d <= max(s.X, t.X)
}

func apart(a, b image.Image) (n int) {
	r, q := a.Bounds(), b.Bounds()
	for y := range r.Dy() {
		for x := range r.Dx() {
			if luma(a.At(r.Min.X+x, r.Min.Y+y)) != luma(b.At(q.Min.X+x, q.Min.Y+y)) {
				n++
			}
		}
	}
	return n
}

// forgive is what a colour may lie outside of those around it in the other picture, after scaling.
const forgive = 24

// forgiving gives after, but where a pixel lies within the colours that before has at most a pixel away it is as it
// was: no more can be said after scaling.
func forgiving(before image.Image, after *image.NRGBA) image.Image {
	was := imaging.Clone(before)
	w, h := was.Rect.Dx(), was.Rect.Dy()
	out := imaging.Clone(after)
	for y := range h {
		for x := range w {
			within := true
			for c := range 3 {
				lo, hi := 255, 0
				for v := max(0, y-1); v <= min(h-1, y+1); v++ {
					for u := max(0, x-1); u <= min(w-1, x+1); u++ {
						p := int(was.Pix[v*was.Stride+4*u+c])
						lo, hi = min(lo, p), max(hi, p)
					}
				}
				p := int(after.Pix[y*after.Stride+4*x+c])
				within = within && p >= lo-forgive && p <= hi+forgive
			}
			if within {
				copy(out.Pix[y*out.Stride+4*x:][:4], was.Pix[y*was.Stride+4*x:][:4])
			}
		}
	}
	return out
}
