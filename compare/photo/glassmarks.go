package photo

import (
	"math"
	"slices"
)

// peak reports whether a stray is the largest among its neighbours: a pixel's of 3x3, a line's of five across.
func peak(v []float32, k, w, h, shape int, sign float32) bool {
	x, y := k%w, k/w
	dx, dy := 1, 1
	switch shape {
	case aRow:
		dx, dy = 0, 2
	case aColumn:
		dx, dy = 2, 0
	}
	for j := max(0, y-dy); j <= min(h-1, y+dy); j++ {
		for i := max(0, x-dx); i <= min(w-1, x+dx); i++ {
			if sign*v[j*w+i] > sign*v[k] {
				return false
			}
		}
	}
	return true
}

// A marker marks what belongs to strays that were found. Light is neither lost nor won on its way through a lens: what all
// of a line's surroundings lack says how many lines are dark, and where the middle of that is, which of them.
type marker struct {
	w, h int
	mask []bool
	left []float32 // what is left over of one colour, turned so that faults are positive

	followed [shapes][]bool // lines, see markOn
}

// near is how far around a fault its light is summed up, in panel pixels.
const near = 3

// mark marks the stray at k: a pixel; an area's middle, see fill; or the lines of a stretch, as far as they are dark. What
// was marked before for all colours is not marked again beside that for one of them.
func (m *marker) mark(k, shape int, before []bool) {
	x, y := k%m.w, k/m.w
	for j := max(0, y-2); j <= min(m.h-1, y+2); j++ {
		for i := max(0, x-2); i <= min(m.w-1, x+2); i++ {
			if before[j*m.w+i] {
				return
			}
		}
	}
	switch shape {
	case aRow:
		m.line(x, y, line{m.w, 1}, line{m.h, m.w})
	case aColumn:
		m.line(y, x, line{m.h, m.w}, line{m.w, 1})
	default:
		m.mask[k] = true
	}
}

// markOn follows a line that is faulty at k both ways, for as long as it goes on: where moiré is strong, what is clear in one part of
// it is not in another.
func (m *marker) markOn(k, shape int, before []bool, goesOn func(k int) bool) {
	along, i := line{m.w, 1}, k%m.w
	switch shape {
	case aRow:
	case aColumn:
		along, i = line{m.h, m.w}, k/m.w
	default:
		return
	}
	if m.followed[shape] == nil {
		m.followed[shape] = make([]bool, m.w*m.h)
	}
	first := k - i*along.step
	for _, way := range [2]int{-1, 1} {
		for n := i + way; n >= 0 && n < along.n; n += way {
			at := first + n*along.step
			if m.followed[shape][at] || !goesOn(at) {
				break
			}
			m.followed[shape][at] = true
			m.mark(at, shape, before)
		}
	}
}

// line marks what is dark of a stretch around i of line j.
func (m *marker) line(i, j int, along, across line) {
	from, to := max(0, i-stretch/2), min(along.n, i+stretch/2)
	top, bottom := max(0, j-near), min(across.n-1, j+near)
	// How much of a line's light is lacking over five pixels' length.
	lacks := make([]float32, along.n)
	for p := from; p < to; p++ {
		n := 0
		for q := max(0, p-2); q <= min(along.n-1, p+2); q++ {
			for l := top; l <= bottom; l++ {
				lacks[p] += m.left[l*across.step+q*along.step]
			}
			n++
		}
		lacks[p] /= float32(n)
	}
	var most, sum, middle float32
	for p := from; p < to; p++ {
		most = max(most, lacks[p])
	}
	length := 0
	var each [2*near + 1]float32
	for p := from; p < to; p++ {
		if lacks[p] > most/2 {
			length++
			for l := top; l <= bottom; l++ {
				v := m.left[l*across.step+p*along.step]
				sum, middle, each[l-top] = sum+v, middle+v*float32(l), each[l-top]+v
			}
		}
	}
	if length == 0 || sum <= 0 {
		return
	}
	// A lens leaves at most about half of a line's light beside it.
	dark := 0
	for _, v := range each {
		if v > 0.6*slices.Max(each[:]) {
			dark++
		}
	}
	thick := max(1, min(dark, int(math.Round(float64(sum)/float64(length)))))
	first := int(math.Round(float64(middle/sum) - float64(thick-1)/2))
	first = min(max(first, 0), across.n-thick)
	for p := from; p < to; p++ {
		if lacks[p] > most/2 {
			for l := range thick {
				m.mask[(first+l)*across.step+p*along.step] = true
			}
		}
	}
}

// fill marks what lies around marks and has over its 3x3 pixels as much amiss as a line has not: areas.
func (m *marker) fill() {
	const area = 0.5
	lacks := func(x, y int) float32 {
		var s float32
		n := 0
		for j := max(0, y-1); j <= min(m.h-1, y+1); j++ {
			for i := max(0, x-1); i <= min(m.w-1, x+1); i++ {
				s += m.left[j*m.w+i]
				n++
			}
		}
		return s / float32(n)
	}
	var stack []int
	for k, marked := range m.mask {
		if marked {
			stack = append(stack, k)
		}
	}
	for len(stack) > 0 {
		k := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		x, y := k%m.w, k/m.w
		for j := max(0, y-1); j <= min(m.h-1, y+1); j++ {
			for i := max(0, x-1); i <= min(m.w-1, x+1); i++ {
				if n := j*m.w + i; !m.mask[n] && lacks(i, j) > area {
					m.mask[n] = true
					stack = append(stack, n)
				}
			}
		}
	}
}
