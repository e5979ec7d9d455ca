package compare

import (
	"fmt"
	"image"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/fascia-bench/fascia/compare/internal/pairs"
)

// fullChange gives two luma planes of which nearly every pixel differs.
func fullChange(w, h int) (a, b lumaPlane) {
	rng := rand.New(rand.NewPCG(1, 1))
	a, b = newLumaPlane(w, h), newLumaPlane(w, h)
	for i := range a {
		v := 96 + 64*(i%w/16%2) + rng.IntN(32)
		a[i], b[i] = uint8(v), uint8(v+rng.IntN(41)-20)
	}
	return a, b
}

// oneWidget gives planes that differ in a button of 160x48.
func oneWidget(w, h int) (a, b lumaPlane) {
	a, _ = fullChange(w, h)
	b = newLumaPlane(w, h)
	copy(b, a)
	for y := h / 2; y < h/2+48; y++ {
		for x := w / 2; x < w/2+160; x++ {
			b[y*w+x] ^= 0x15
		}
	}
	return a, b
}

func BenchmarkSSIM(b *testing.B) {
	for _, s := range []struct{ w, h int }{{320, 240}, {1920, 1080}} {
		p, q := fullChange(s.w, s.h)
		one, other := oneWidget(s.w, s.h)
		run := func(name string, k kernels, p, q lumaPlane) {
			b.Run(fmt.Sprintf("%dx%d/%s", s.w, s.h, name), func(b *testing.B) {
				for b.Loop() {
					ssimFast(k, p, q, s.w, s.h, nil)
				}
			})
		}
		run("everything changed", fastest, p, q)
		run("everything changed, kernels in Go", kernels{filterRowGo, scoreRowGo}, p, q)
		run("one widget changed", fastest, one, other)
	}
}

// BenchmarkExplain explains differing looks of 320x240, one of each cause in turn, and
// reports the median and the worst time of a look, in ms.
func BenchmarkExplain(b *testing.B) {
	type look struct {
		golden, capture *image.RGBA
		opt             Options
		name            string
	}
	var looks []look
	src := pairs.NewSource(11, pairs.Judged)
	for len(looks) < 200 {
		// A wrong screen, which nothing explains, is the dearest.
		for {
			q := src.Whole("stale")
			if q.Golden.Rect.Dx() == 320 && q.Golden.Rect.Dy() == 240 {
				looks = append(looks, look{golden: q.Golden, capture: q.Capture, name: "another screen"})
				break
			}
		}
		for _, list := range [][]string{pairs.WholeFaults, pairs.PartFaults} {
			for _, c := range list {
				p := src.Whole
				if len(list) == len(pairs.PartFaults) {
					p = src.Part
				}
				for {
					q := p(c)
					if q.Golden.Rect.Dx() != 320 || q.Golden.Rect.Dy() != 240 {
						continue
					}
					l := look{golden: q.Golden, capture: q.Capture, name: c}
					if q.Previous != nil {
						l.opt.Previous = q.Previous
					}
					looks = append(looks, l)
					break
				}
			}
		}
	}
	best := make([]time.Duration, len(looks))
	b.ResetTimer()
	n := 0
	for b.Loop() {
		i := n % len(looks)
		n++
		start := time.Now()
		Compare(looks[i].golden, looks[i].capture, looks[i].opt)
		if d := time.Since(start); best[i] == 0 || d < best[i] {
			best[i] = d
		}
	}
	seen := slices.DeleteFunc(slices.Clone(best), func(d time.Duration) bool { return d == 0 })
	slices.Sort(seen)
	b.ReportMetric(float64(seen[len(seen)/2].Microseconds())/1000, "median-ms")
	b.ReportMetric(float64(seen[len(seen)-1].Microseconds())/1000, "worst-ms")
	b.Logf("worst: %s", looks[slices.Index(best, seen[len(seen)-1])].name)
}
