package compare

import (
	"image"
	"math"
)

// Map draws the score of every window as the grey of the pixel at its centre: white is
// one, black is zero or less. Pixels within 5 px of an edge, which have no window, are
// white. ok is false where SSIM is not defined.
func Map(a, b image.Image) (m *image.Gray, ok bool) {
	w, h, pa, pb, ok := lumaPlanes(a, b)
	if !ok {
		return nil, false
	}
	ow, oh := w-2*ssimRadius, h-2*ssimRadius
	scores := make([]float64, ow*oh)
	ssimFast(fastest, pa, pb, w, h, scores)
	m = image.NewGray(image.Rect(0, 0, w, h))
	for i := range m.Pix {
		m.Pix[i] = 255
	}
	for y := range oh {
		row := m.Pix[(y+ssimRadius)*m.Stride+ssimRadius:]
		for x, v := range scores[y*ow : (y+1)*ow] {
			row[x] = uint8(math.Round(255 * math.Max(0, v)))
		}
	}
	return m, true
}

// Score is the outcome of SSIM on one channel.
type Score struct {
	Mean, Min float64
	// MinAt is the pixel at the centre of the worst window.
	MinAt image.Point
}

// SSIMChannels is SSIM of red, green and blue each by itself.
func SSIMChannels(a, b image.Image) (red, green, blue Score, ok bool) {
	s := sizeOf(a)
	if s != sizeOf(b) || tooLarge(s) || s.X < ssimTaps || s.Y < ssimTaps {
		return red, green, blue, false
	}
	ga, gb := load(a), load(b)
	for i, out := range []*Score{&red, &green, &blue} {
		shift := 16 - 8*i
		take := func(m *picture) lumaPlane {
			p := newLumaPlane(m.w, m.h)
			for k, v := range m.px {
				p[k] = uint8(v >> shift)
			}
			return p
		}
		out.Mean, out.Min, out.MinAt = ssimFast(fastest, take(ga), take(gb), s.X, s.Y, nil)
	}
	return red, green, blue, true
}

// lumaPlanes gives the luma of two pictures of one size, at least 11 px a side.
func lumaPlanes(a, b image.Image) (w, h int, pa, pb lumaPlane, ok bool) {
	s := sizeOf(a)
	if s != sizeOf(b) || tooLarge(s) || s.X < ssimTaps || s.Y < ssimTaps {
		return 0, 0, nil, nil, false
	}
	return s.X, s.Y, lumaOf(a), lumaOf(b), true
}

func lumaOf(m image.Image) lumaPlane {
	s := sizeOf(m)
	out := newLumaPlane(s.X, s.Y)
	if g, ok := m.(*image.Gray); ok {
		for y := range s.Y {
			copy(out[y*s.X:(y+1)*s.X], g.Pix[g.PixOffset(g.Rect.Min.X, g.Rect.Min.Y+y):])
		}
		return out
	}
	for i, v := range load(m).px {
		out[i] = luma(v)
	}
	return out
}
