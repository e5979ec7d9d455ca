package compare

import (
	"bytes"
	"image"
	"math"
	"runtime"
	"sync"
	"sync/atomic"
)

// The fast path filters strips of 64 columns, so that the eleven rows a window needs stay
// in the first-level cache, and skips rows of a strip whose windows hold no difference.
//
// Of a and b it takes s = a+b and d = a-b: E[s], E[d], E[s*s] and E[d*d] give all that the
// score needs, with four filters in place of five, and where d is zero throughout a window
// the score is exactly one.
const (
	stripWidth   = 64
	ssimPlanes   = 4
	stripRow     = ssimPlanes * stripWidth // values of a filtered row
	scratchWidth = 80                      // at least stripWidth+12
	// rowSlack is how far kernels may read past the end of a plane.
	rowSlack = 16
)

// rowFilter stores the horizontally filtered sums of n pixels, a multiple of 4.
type rowFilter func(dst, scratch []float64, a, b []uint8, n int)

// rowScorer filters the eleven rows of ring vertically and scores n windows, a multiple of 4.
type rowScorer func(out, ring []float64, weights *[ssimTaps]float64, n int) (sum, low float64)

type kernels struct {
	filter rowFilter
	score  rowScorer
}

// lumaPlane is 8-bit luma, row after row, with rowSlack bytes after the end.
type lumaPlane []uint8

func newLumaPlane(w, h int) lumaPlane { return make(lumaPlane, w*h+rowSlack)[: w*h : w*h+rowSlack] }

// stripScore is what one strip adds to the whole.
type stripScore struct {
	sum, low float64
	at       image.Point
}

// ssimFast scores planes of w x h, both at least 11, on all cores. Each score goes to out,
// (w-10) x (h-10), unless it is nil. The result does not depend on the number of cores.
func ssimFast(k kernels, a, b lumaPlane, w, h int, out []float64) (mean, low float64, at image.Point) {
	ow, oh := w-2*ssimRadius, h-2*ssimRadius
	rows := differingRows(a, b, w, h)
	strips := (ow + stripWidth - 1) / stripWidth
	// Bands even out the work of the cores on small panels; each filters ten rows that its
	// neighbour filters too.
	bands := min(max(1, oh/96), max(1, 16/strips))
	n := strips * bands
	scores := make([]stripScore, n)
	eachInParallel(n, func() func(int) {
		s := &strip{k: k, ring: make([]float64, ssimTaps*stripRow), scratch: make([]float64, ssimPlanes*scratchWidth),
			line: make([]float64, stripWidth)}
		return func(i int) {
			x, band := i/bands*stripWidth, i%bands
			scores[i] = s.run(a, b, w, image.Rect(x, band*oh/bands, min(x+stripWidth, ow), (band+1)*oh/bands), rows, out, ow)
		}
	})
	low = math.Inf(1)
	var sum float64
	for _, s := range scores {
		sum += s.sum
		if s.low < low || s.low == low && (s.at.Y < at.Y || s.at.Y == at.Y && s.at.X < at.X) {
			low, at = s.low, s.at
		}
	}
	return sum / float64(ow*oh), low, at
}

// eachInParallel runs the function that worker makes, once for each core, on 0..n-1.
func eachInParallel(n int, worker func() func(i int)) {
	cores := min(n, runtime.GOMAXPROCS(0))
	if cores < 2 {
		f := worker()
		for i := range n {
			f(i)
		}
		return
	}
	var next atomic.Int64
	work := func() {
		f := worker()
		for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
			f(i)
		}
	}
	var wg sync.WaitGroup
	for range cores - 1 {
		wg.Go(work)
	}
	work() // one core is this one
	wg.Wait()
}

// differingRows marks the rows in which the planes differ.
func differingRows(a, b lumaPlane, w, h int) []bool {
	rows := make([]bool, h)
	for y := range rows {
		rows[y] = !bytes.Equal(a[y*w:(y+1)*w], b[y*w:(y+1)*w])
	}
	return rows
}

// strip is the working memory of one worker.
type strip struct {
	k                   kernels
	ring, scratch, line []float64
}

// run scores the windows whose upper left corner is in the area, which is at most
// stripWidth wide. ow is the number of windows in a row of the picture.
func (s *strip) run(a, b lumaPlane, w int, area image.Rectangle, rows []bool, out []float64, ow int) stripScore {
	x, n := area.Min.X, area.Dx()
	res := stripScore{low: 1, at: area.Min.Add(image.Pt(ssimRadius, ssimRadius))}
	last := -1 << 30 // the last row in which this strip differs
	filled := 0      // rows below this one are in the ring, if they were asked for
	skipped := 0
	for y := area.Min.Y; y < area.Max.Y+ssimTaps-1; y++ {
		if rows[y] {
			i := y*w + x
			if !bytes.Equal(a[i:i+n+ssimTaps-1], b[i:i+n+ssimTaps-1]) {
				last = y
			}
		}
		top := y - (ssimTaps - 1) // of the window whose last row this is
		if top < area.Min.Y {
			continue
		}
		if last < top {
			skipped++
			if out != nil {
				for i := range n {
					out[top*ow+x+i] = 1
				}
			}
			continue
		}
		for filled = max(filled, top); filled <= y; filled++ {
			i := filled*w + x
			m := (n + 3) &^ 3
			s.k.filter(s.ring[filled%ssimTaps*stripRow:][:stripRow], s.scratch, a[i:i+m+12:cap(a)], b[i:i+m+12:cap(b)], m)
		}
		res.add(s, top, x, n, ow, out)
	}
	res.sum += float64(skipped) * float64(n)
	return res
}

// add scores one row of windows.
func (r *stripScore) add(s *strip, top, x, n, ow int, out []float64) {
	// The ring turns; so the weights turn with it.
	var weights [ssimTaps]float64
	for t, v := range ssimWindow {
		weights[(top+t)%ssimTaps] = v
	}
	low := math.Inf(1)
	if full := n &^ 3; full > 0 {
		sum, l := s.k.score(s.line, s.ring, &weights, full)
		r.sum += sum
		low = l
	}
	if n&3 != 0 {
		from := n &^ 3
		s.k.score(s.line[from:], s.ring[from:], &weights, 4)
		for _, v := range s.line[from:n] {
			r.sum += v
			low = min(low, v)
		}
	}
	if low < r.low {
		for i, v := range s.line[:n] {
			if v == low {
				r.low, r.at = low, image.Pt(x+i+ssimRadius, top+ssimRadius)
				break
			}
		}
	}
	if out != nil {
		copy(out[top*ow+x:], s.line[:n])
	}
}

// filterRowGo and scoreRowGo are the kernels in Go.
func filterRowGo(dst, scratch []float64, a, b []uint8, n int) {
	for i := range n + ssimTaps - 1 {
		s, d := float64(int(a[i])+int(b[i])), float64(int(a[i])-int(b[i]))
		scratch[i], scratch[scratchWidth+i] = s, d
		scratch[2*scratchWidth+i], scratch[3*scratchWidth+i] = s*s, d*d
	}
	w := &ssimWindow
	for k := range ssimPlanes {
		in, to := scratch[k*scratchWidth:(k+1)*scratchWidth], dst[k*stripWidth:(k+1)*stripWidth]
		for i := range n {
			v := in[i : i+ssimTaps : i+ssimTaps]
			to[i] = w[0]*(v[0]+v[10]) + w[1]*(v[1]+v[9]) + w[2]*(v[2]+v[8]) + w[3]*(v[3]+v[7]) + w[4]*(v[4]+v[6]) + w[5]*v[5]
		}
	}
}

func scoreRowGo(out, ring []float64, weights *[ssimTaps]float64, n int) (sum, low float64) {
	low = math.Inf(1)
	for i := range n {
		var m [ssimPlanes]float64
		for t, w := range weights {
			for k := range m {
				m[k] += w * ring[t*stripRow+k*stripWidth+i]
			}
		}
		s2, d2 := m[0]*m[0], m[1]*m[1]
		vs, vd := m[2]-s2, m[3]-d2
		v := (s2 - d2 + 2*ssimC1) * (vs - vd + 2*ssimC2) / ((s2 + d2 + 2*ssimC1) * (vs + vd + 2*ssimC2))
		out[i] = v
		sum += v
		low = min(low, v)
	}
	return sum, low
}
