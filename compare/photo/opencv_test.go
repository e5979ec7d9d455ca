//go:build camera

package photo

import (
	"image"
	"image/color"
	"testing"
	"time"

	"gocv.io/x/gocv"
)

// BenchmarkAgainstOpenCV times a comparison against what a plain check of photos costs with OpenCV: remap of the whole
// photo in colour, then SSIM by Gaussian filters of 11x11 on its grey, as Wang et al. 2004. Both in turn, least time of each.
func BenchmarkAgainstOpenCV(b *testing.B) {
	c, o := wide()
	m := screens(b)[5]
	p := c.Photo(m)
	w, h := p.Rect.Dx(), p.Rect.Dy()
	src, err := gocv.NewMatFromBytes(h, w, gocv.MatTypeCV8UC4, p.Pix)
	if err != nil {
		b.Fatal(err)
	}
	defer src.Close()
	mapX, mapY := gocv.NewMatWithSize(h, w, gocv.MatTypeCV32F), gocv.NewMatWithSize(h, w, gocv.MatTypeCV32F)
	defer mapX.Close()
	defer mapY.Close()
	for y := range h {
		for x := range w {
			mapX.SetFloatAt(y, x, float32(x)+0.3)
			mapY.SetFloatAt(y, x, float32(y)+0.3)
		}
	}
	var mats [14]gocv.Mat
	for i := range mats {
		mats[i] = gocv.NewMat()
		defer mats[i].Close()
	}
	theirs := func() {
		flat, grey, fa, fb := &mats[0], &mats[1], &mats[2], &mats[3]
		gocv.Remap(src, flat, &mapX, &mapY, gocv.InterpolationLinear, gocv.BorderConstant, color.RGBA{})
		gocv.CvtColor(*flat, grey, gocv.ColorRGBAToGray)
		grey.ConvertTo(fa, gocv.MatTypeCV32F)
		fa.CopyTo(fb)
		gocv.Multiply(*fa, *fa, &mats[4])
		gocv.Multiply(*fb, *fb, &mats[5])
		gocv.Multiply(*fa, *fb, &mats[6])
		for i, from := range []int{2, 3, 4, 5, 6} {
			gocv.GaussianBlur(mats[from], &mats[7+i], image.Pt(11, 11), 1.5, 1.5, gocv.BorderReflect)
		}
		gocv.Multiply(mats[7], mats[8], &mats[12])
		gocv.Subtract(mats[11], mats[12], &mats[13])
		gocv.Divide(mats[12], mats[13], &mats[12])
		_ = mats[12].Mean()
	}
	least := func(t *time.Duration, f func()) {
		start := time.Now()
		f()
		if d := time.Since(start); *t == 0 || d < *t {
			*t = d
		}
	}
	var ours, cv time.Duration
	for b.Loop() {
		least(&cv, theirs)
		least(&ours, func() {
			if _, err := o.Compare(m, p, Options{}); err != nil {
				b.Fatal(err)
			}
		})
	}
	b.ReportMetric(float64(ours.Microseconds())/1000, "least-ms")
	b.ReportMetric(float64(cv.Microseconds())/1000, "opencv-ms")
	b.ReportMetric(float64(ours)/float64(cv), "ours/opencv")
}
