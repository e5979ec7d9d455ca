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

// onOne brings two pictures on to one panel where that can be done; else it leaves them as they are, of two sizes.
func (b *boards) onOne(before, after image.Image) (image.Image, image.Image) {
	s, t := before.Bounds().Size(), after.Bounds().Size()
	if b == nil || s == t && b.formats[0] == b.formats[1] {
		return before, after
	}
	if s != t && s.X == t.Y && s.Y == t.X {
		right, left := imaging.Rotate90(after), imaging.Rotate270(after)
		after = right
		turn := "clockwise"
		if apart(before, left) < apart(before, right) {
			after, turn = left, "anticlockwise"
		}
		b.say("After is %dx%d and before %dx%d: turned a quarter back, as from a panel turned %s. A picture that was drawn for the other layout cannot be compared so.", t.X, t.Y, s.X, s.Y, turn)
		t = s
	}
	switch big, small := max(s.X, t.X), min(s.X, t.X); {
	case s == t:
	case small*4 >= big && scales(s, t):
		b.say("After is %dx%d and before %dx%d, %.3g times as large: brought to the smaller size. Thin lines, letters' edges and what is smaller than a pixel there cannot be compared.", t.X, t.Y, s.X, s.Y, float64(t.X)/float64(s.X))
		if t.X > s.X {
			after = forgiving(before, imaging.Resize(after, s.X, s.Y, imaging.Box))
		} else {
			before = imaging.Resize(before, t.X, t.Y, imaging.Box)
			after = forgiving(before, imaging.Clone(after))
		}
	case min(s.X, t.X)*min(s.Y, t.Y)*2 >= max(s.X*s.Y, t.X*t.Y):
		r := image.Rect(0, 0, min(s.X, t.X), min(s.Y, t.Y))
		b.say("After is %dx%d and before %dx%d: the %dx%d px at the top left are compared. What lies beyond, and what is laid out by the size of the panel, cannot be.", t.X, t.Y, s.X, s.Y, r.Dx(), r.Dy())
		before, after = imaging.Crop(before, r.Add(before.Bounds().Min)), imaging.Crop(after, r.Add(after.Bounds().Min))
	default:
		b.say("After is %dx%d and before %dx%d: another layout, of which nothing can be compared but that the look is there.", t.X, t.Y, s.X, s.Y)
		return before, after
	}
	return b.oneDepth(before, after)
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

func luma(c color.Color) uint8 { return color.GrayModel.Convert(c).(color.Gray).Y }

// depths are how many bits a channel has in a format that is poorer than 24 bit.
var depths = map[string][3]int{"rgb565le": {5, 6, 5}, "rgb565be": {5, 6, 5}, "rgb332": {3, 3, 2}}

// oneDepth brings both pictures to the poorer depth.
func (b *boards) oneDepth(before, after image.Image) (image.Image, image.Image) {
	f := b.formats
	if f[0] == f[1] || f[0] == "" || f[1] == "" {
		return before, after
	}
	mono := func(s string) bool { return len(s) >= 4 && s[:4] == "mono" }
	sides := [2]*image.Image{&before, &after}
	for k := range sides {
		other := f[1-k]
		switch bits, poor := depths[other]; {
		case mono(other) && !mono(f[k]):
			*sides[k] = mapped(*sides[k], func(c color.NRGBA) color.NRGBA {
				if luma(c) >= 128 {
					return color.NRGBA{255, 255, 255, 255}
				}
				return color.NRGBA{0, 0, 0, 255}
			})
			b.say("%s has %s and %s %s: colours are made black or white at half their lightness. Colours cannot be compared.", [2]string{"Before", "After"}[k], f[k], [2]string{"after", "before"}[k], other)
		case poor && !mono(f[k]) && coarser(bits, depths[f[k]]):
			*sides[k] = mapped(*sides[k], func(c color.NRGBA) color.NRGBA {
				return color.NRGBA{fewer(c.R, bits[0]), fewer(c.G, bits[1]), fewer(c.B, bits[2]), 255}
			})
			b.say("%s has %s and %s %s: compared with %d, %d and %d bits a channel. What differs below that cannot be compared.", [2]string{"Before", "After"}[k], f[k], [2]string{"after", "before"}[k], other, bits[0], bits[1], bits[2])
		}
	}
	return before, after
}

// coarser reports whether a depth is poorer than another, of which none known means 24 bit.
func coarser(a, b [3]int) bool { return b == [3]int{} || a[0]+a[1]+a[2] < b[0]+b[1]+b[2] }

// fewer keeps the top bits of a channel and fills the rest with copies of them, as capture does.
func fewer(v uint8, bits int) uint8 {
	top := int(v) >> (8 - bits)
	out := 0
	for at := 8 - bits; at > -bits; at -= bits {
		if at >= 0 {
			out |= top << at
		} else {
			out |= top >> -at
		}
	}
	return uint8(out)
}

func mapped(m image.Image, f func(color.NRGBA) color.NRGBA) image.Image {
	out := imaging.Clone(m)
	for i := 0; i < len(out.Pix); i += 4 {
		c := f(color.NRGBA{out.Pix[i], out.Pix[i+1], out.Pix[i+2], out.Pix[i+3]})
		out.Pix[i], out.Pix[i+1], out.Pix[i+2], out.Pix[i+3] = c.R, c.G, c.B, c.A
	}
	return out
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
