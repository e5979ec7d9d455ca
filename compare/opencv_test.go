//go:build camera

package compare

import (
	"fmt"
	"image"
	"math"
	"testing"
	"time"

	"gocv.io/x/gocv"
)

// opencvSSIM is the same computation by OpenCV: five Gaussian filters of 11x11 and sigma
// 1.5, products, quotient and mean, in CV_32F or, with the precision that ours has, CV_64F.
type opencvSSIM struct {
	kind                                    gocv.MatType
	a, b                                    gocv.Mat
	fa, fb, aa, bb, ab, ma, mb, sa, sb, sab gocv.Mat
	t1, t2, t3                              gocv.Mat
}

func newOpenCVSSIM(w, h int, a, b []uint8, kind gocv.MatType) (*opencvSSIM, error) {
	var o opencvSSIM
	o.kind = kind
	var err error
	if o.a, err = gocv.NewMatFromBytes(h, w, gocv.MatTypeCV8U, a); err != nil {
		return nil, err
	}
	if o.b, err = gocv.NewMatFromBytes(h, w, gocv.MatTypeCV8U, b); err != nil {
		return nil, err
	}
	for _, m := range o.work() {
		*m = gocv.NewMat()
	}
	return &o, nil
}

func (o *opencvSSIM) work() []*gocv.Mat {
	return []*gocv.Mat{&o.fa, &o.fb, &o.aa, &o.bb, &o.ab, &o.ma, &o.mb, &o.sa, &o.sb, &o.sab, &o.t1, &o.t2, &o.t3}
}

func (o *opencvSSIM) close() {
	o.a.Close()
	o.b.Close()
	for _, m := range o.work() {
		m.Close()
	}
}

func (o *opencvSSIM) mean() float64 {
	o.a.ConvertTo(&o.fa, o.kind)
	o.b.ConvertTo(&o.fb, o.kind)
	gocv.Multiply(o.fa, o.fa, &o.aa)
	gocv.Multiply(o.fb, o.fb, &o.bb)
	gocv.Multiply(o.fa, o.fb, &o.ab)
	size := image.Pt(ssimTaps, ssimTaps)
	for _, f := range []struct {
		src gocv.Mat
		dst *gocv.Mat
	}{{o.fa, &o.ma}, {o.fb, &o.mb}, {o.aa, &o.sa}, {o.bb, &o.sb}, {o.ab, &o.sab}} {
		gocv.GaussianBlur(f.src, f.dst, size, ssimSigma, ssimSigma, gocv.BorderReflect)
	}
	gocv.Multiply(o.ma, o.mb, &o.t1) // muA muB
	gocv.Multiply(o.ma, o.ma, &o.t2)
	gocv.Multiply(o.mb, o.mb, &o.t3)
	gocv.Subtract(o.sab, o.t1, &o.sab)
	gocv.Subtract(o.sa, o.t2, &o.sa)
	gocv.Subtract(o.sb, o.t3, &o.sb)
	gocv.Add(o.t2, o.t3, &o.t2) // muA^2 + muB^2
	gocv.Add(o.sa, o.sb, &o.sa) // varA + varB
	o.t1.MultiplyFloat(2)
	o.t1.AddFloat(ssimC1)
	o.sab.MultiplyFloat(2)
	o.sab.AddFloat(ssimC2)
	o.t2.AddFloat(ssimC1)
	o.sa.AddFloat(ssimC2)
	gocv.Multiply(o.t1, o.sab, &o.t1)
	gocv.Multiply(o.t2, o.sa, &o.t2)
	gocv.Divide(o.t1, o.t2, &o.t1)
	valid := o.t1.Region(image.Rect(ssimRadius, ssimRadius, o.t1.Cols()-ssimRadius, o.t1.Rows()-ssimRadius))
	defer valid.Close()
	return valid.Mean().Val1
}

// BenchmarkAgainstOpenCV times both in turn, in one run, and reports our time as a share of
// OpenCV's, which runs on all cores as ours does: "full" with everything changed, "widget" with one button changed.
func BenchmarkAgainstOpenCV(b *testing.B) {
	for _, s := range []struct{ w, h int }{{320, 240}, {1920, 1080}} {
		b.Run(fmt.Sprintf("%dx%d", s.w, s.h), func(b *testing.B) {
			p, q := fullChange(s.w, s.h)
			one, other := oneWidget(s.w, s.h)
			o, err := newOpenCVSSIM(s.w, s.h, p, q, gocv.MatTypeCV32F)
			if err != nil {
				b.Fatal(err)
			}
			defer o.close()
			double, err := newOpenCVSSIM(s.w, s.h, p, q, gocv.MatTypeCV64F)
			if err != nil {
				b.Fatal(err)
			}
			defer double.close()
			ours, _, _ := ssimFast(fastest, p, q, s.w, s.h, nil)
			if theirs := o.mean(); math.Abs(ours-theirs) > 1e-4 {
				b.Fatalf("not the same computation: mean %v, by OpenCV %v", ours, theirs)
			}
			// The least time of each is compared: what others do on the machine only adds.
			least := func(t *time.Duration, f func()) {
				start := time.Now()
				f()
				if d := time.Since(start); *t == 0 || d < *t {
					*t = d
				}
			}
			var cv, cv64, full, widget time.Duration
			for b.Loop() {
				least(&cv, func() { o.mean() })
				least(&cv64, func() { double.mean() })
				least(&full, func() { ssimFast(fastest, p, q, s.w, s.h, nil) })
				least(&widget, func() { ssimFast(fastest, one, other, s.w, s.h, nil) })
			}
			b.ReportMetric(float64(cv.Microseconds())/1000, "opencv-ms")
			b.ReportMetric(float64(full)/float64(cv), "full/opencv")
			b.ReportMetric(float64(full)/float64(cv64), "full/opencv-double")
			b.ReportMetric(float64(widget)/float64(cv), "widget/opencv")
		})
	}
}
