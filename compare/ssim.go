package compare

import (
	"image"
	"math"
)

// The constants of Z. Wang, A. C. Bovik, H. R. Sheikh, E. P. Simoncelli, "Image Quality
// Assessment: From Error Visibility to Structural Similarity", IEEE Trans. Image
// Processing 13(4), 2004: K1 = 0.01, K2 = 0.03, L = 255, an 11x11 Gaussian window of
// sigma 1.5 that sums to one.
const (
	ssimTaps   = 11
	ssimRadius = ssimTaps / 2
	ssimSigma  = 1.5
	ssimC1     = (0.01 * 255) * (0.01 * 255)
	ssimC2     = (0.03 * 255) * (0.03 * 255)
)

// ssimWindow is the one-dimensional window; the 11x11 one is its outer product.
var ssimWindow = func() (w [ssimTaps]float64) {
	var sum float64
	for i := range w {
		d := float64(i - ssimRadius)
		w[i] = math.Exp(-d * d / (2 * ssimSigma * ssimSigma))
		sum += w[i]
	}
	for i := range w {
		w[i] /= sum
	}
	return w
}()

// SSIM gives the mean structural similarity of two pictures over the valid area (the
// pixels at least 5 px from every edge), the lowest score and the pixel at the centre of
// its window. It is taken of luma (BT.709 on encoded values, rounded to 8 bits), with
// population variances. ok is false where it is not defined: sizes differ, or a side is
// under 11 px.
func SSIM(a, b image.Image) (mean, min float64, at image.Point, ok bool) {
	w, h, pa, pb, ok := lumaPlanes(a, b)
	if !ok {
		return 0, 0, image.Point{}, false
	}
	mean, min, at = ssimFast(fastest, pa, pb, w, h, nil)
	return mean, min, at, true
}

// ssimPair scores the pair with the golden's pixels where pixels are ignored.
func ssimPair(p *pair) (mean, min float64, at image.Point, ok bool) {
	if p.w < ssimTaps || p.h < ssimTaps {
		return 0, 0, image.Point{}, false
	}
	if p.changed == 0 {
		return 1, 1, image.Pt(ssimRadius, ssimRadius), true
	}
	a, b := newLumaPlane(p.w, p.h), newLumaPlane(p.w, p.h)
	for i, v := range p.g.px {
		a[i] = luma(v)
		b[i] = a[i]
		if p.diff[i] {
			b[i] = luma(p.c.px[i])
		}
	}
	mean, min, at = ssimFast(fastest, a, b, p.w, p.h, nil)
	return mean, min, at, true
}
