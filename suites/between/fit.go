package between

import (
	"image"

	"github.com/disintegration/imaging"
)

// A screen that is laid out by the width of its panel keeps some things at the left, some at the right and some in the
// middle; between them it has more or less ground. So the wider of two such pictures is brought to the narrower by
// taking out columns that are like their neighbours, in each band of rows by itself: an alignment of least cost, as of
// two texts (Wagner and Fischer 1974), of which one may only lose. Nothing that stands there is taken out unless
// there is no other way, and that costs more than to call it changed.
const (
	fitBand    = 8 // rows that are aligned as one
	fitSlack   = 8 // of a channel, to count as like: a step of five bits
	fitChanged = 1 // cost of a column that is another
	fitLost    = 2 // cost of taking out a column that is not like its neighbour
)

// fitting gives what brings pictures of before's size to that of after, which differ in width (across) or in height.
func fitting(before, after shot, across bool) func(image.Image) *image.NRGBA {
	upright := func(m image.Image) *image.NRGBA {
		if across {
			return imaging.Clone(m)
		}
		return imaging.Transpose(m)
	}
	var offB, offA *image.NRGBA
	if before.ignore != nil {
		offB = upright(before.ignore)
	}
	if after.ignore != nil {
		offA = upright(after.ignore)
	}
	b, a := upright(before.m), upright(after.m)
	var bands [][]int // for each band the column of before for each of after
	for y := 0; y < b.Rect.Dy(); y += fitBand {
		r := image.Rect(0, y, 0, min(y+fitBand, b.Rect.Dy()))
		if wide, narrow := band(b, offB, r), band(a, offA, r); len(wide.px) >= len(narrow.px) {
			bands = append(bands, narrowed(wide, narrow))
		} else { // what after has more of repeats what stands before it
			from, at := make([]int, a.Rect.Dx()), 0
			for k, i := range narrowed(narrow, wide) {
				for ; at <= i; at++ {
					from[at] = k
				}
			}
			for ; at < len(from); at++ {
				from[at] = b.Rect.Dx() - 1
			}
			bands = append(bands, from)
		}
	}
	w := a.Rect.Dx()
	return func(m image.Image) *image.NRGBA {
		src := upright(m)
		out := image.NewNRGBA(image.Rect(0, 0, w, src.Rect.Dy()))
		for y := range src.Rect.Dy() {
			for x, from := range bands[y/fitBand] {
				copy(out.Pix[y*out.Stride+4*x:][:4], src.Pix[y*src.Stride+4*from:][:4])
			}
		}
		if !across {
			return imaging.Transpose(out)
		}
		return out
	}
}

// A strip is a band of rows, column by column.
type strip struct {
	px     [][]uint8 // nil where it does not count: that is like all
	repeat []bool    // the column is like the one before it, and both count
}

func band(m, ignore *image.NRGBA, r image.Rectangle) strip {
	s := strip{px: make([][]uint8, m.Rect.Dx()), repeat: make([]bool, m.Rect.Dx())}
	for x := range s.px {
		for y := r.Min.Y; y < r.Max.Y; y++ {
			if ignore != nil && ignore.Pix[y*ignore.Stride+4*x] > 0 {
				s.px[x] = nil
				break
			}
			s.px[x] = append(s.px[x], m.Pix[y*m.Stride+4*x:][:3]...)
		}
		s.repeat[x] = x > 0 && s.px[x] != nil && s.px[x-1] != nil && like(s.px[x-1], s.px[x])
	}
	return s
}

func like(a, b []uint8) bool {
	for i := range min(len(a), len(b)) {
		if d := int(a[i]) - int(b[i]); d > fitSlack || -d > fitSlack {
			return false
		}
	}
	return true
}

// narrowed gives for each column of the narrow strip that of the wide one that stands there.
func narrowed(wide, narrow strip) []int {
	n, over := len(narrow.px), len(wide.px)-len(narrow.px)
	lost := func(i int) int32 {
		if wide.repeat[i] {
			return 0
		}
		return fitLost
	}
	// cost[j][k]: of the first j columns of the narrow strip and j+k of the wide one; taken: the last was taken out.
	cost := make([][]int32, n+1)
	taken := make([][]bool, n+1)
	for j := range cost {
		cost[j], taken[j] = make([]int32, over+1), make([]bool, over+1)
		for k := range cost[j] {
			best := int32(1 << 30)
			if j > 0 {
				best = cost[j-1][k]
				if !like(narrow.px[j-1], wide.px[j-1+k]) {
					best += fitChanged
				}
			} else if k == 0 {
				best = 0
			}
			if k > 0 {
				if c := cost[j][k-1] + lost(j+k-1); c < best {
					best, taken[j][k] = c, true
				}
			}
			cost[j][k] = best
		}
	}
	from := make([]int, n)
	for j, k := n, over; j > 0 || k > 0; {
		if taken[j][k] {
			k--
			continue
		}
		j--
		from[j] = j + k
	}
	return from
}
