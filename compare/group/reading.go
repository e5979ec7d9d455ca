package group

import "math"

// reads holds the content of a line of text before against that after: column by column from left to
// right, so that letters may be drawn otherwise, a little further on or at another size, but are the same
// letters. It gives for each column how badly it fits, 0 to 1: of the stretch of one letter around
// it, the ink that is not where it should be. Where nothing stands there, it is 0.
//
// Text that is much shorter than it was may be the beginning of what it was: it is held against as much of that as it fits
// best, and the rest fits nothing. end is the column where it ends then, else that of the picture.
//
// The columns are brought together by dynamic time warping within a narrow band (Sakoe and Chiba,
// "Dynamic programming algorithm optimization for spoken word recognition", IEEE Transactions on Acoustics,
// Speech, and Signal Processing 26, 1978).
func reads(b, a plane, ground uint32, strokes int) (fit []float64, end int) {
	before, lb := columnsOf(b, ground, strokes)
	after, la := columnsOf(a, ground, strokes)
	n, m := len(before), len(after)
	if n == 0 || m == 0 {
		return nil, b.w
	}
	reach := 5 + max(n, m)/12
	end = b.w
	cut := before[n:]
	if n-m > reach && m >= a.h {
		reach = 5 + m/12
		n = min(n, m+reach)
		before, cut, end = before[:n], before[n:], la+m
	}
	short := end < b.w
	if n-m > reach || m-n > reach {
		return nil, b.w
	}
	cost := make([]float64, (n+1)*(m+1))
	from := make([]uint8, len(cost))
	for k := range cost {
		cost[k] = math.Inf(1)
	}
	cost[0] = 0
	const skip = 0.2 // px of ink that a column set over against two others costs
	for i := 0; i <= n; i++ {
		at := i * m / n
		if short {
			at = i
		}
		for j := max(0, at-reach); j <= min(m, at+reach); j++ {
			k := i*(m+1) + j
			if i > 0 && j > 0 {
				c := apartBy(before[i-1], after[j-1])
				for way, prev := range [3]float64{cost[k-m-2], cost[k-m-1] + skip, cost[k-1] + skip} {
					if prev+c < cost[k] {
						cost[k], from[k] = prev+c, uint8(way)
					}
				}
			}
		}
	}
	// The misfit of each column, on the path back.
	miss, ink := make([]float64, b.w), make([]float64, b.w)
	put := func(x int, c, q float64) {
		if x >= 0 && x < len(miss) {
			miss[x] += c
			ink[x] += q
		}
	}
	if short {
		whole := n
		for i := max(1, m-reach); i < whole; i++ {
			if cost[i*(m+1)+m] <= cost[n*(m+1)+m] {
				n = i
			}
		}
		cut = append(before[n:whole:whole], cut...)
		for k, c := range cut {
			put(lb+n+k, total(c), total(c))
		}
	}
	for i, j := n, m; i > 0 && j > 0; {
		c := apartBy(before[i-1], after[j-1])
		q := math.Max(total(before[i-1]), total(after[j-1]))
		put(lb+i-1, c, q)
		if lb+i != la+j {
			put(la+j-1, c, q)
		}
		switch from[i*(m+1)+j] {
		case 0:
			i, j = i-1, j-1
		case 1:
			i--
		default:
			j--
		}
	}
	wide := max(3, b.h/2)
	out := make([]float64, b.w)
	for x := range out {
		c, q := 0.0, 0.0
		for u := max(0, x-wide); u <= min(len(out)-1, x+wide); u++ {
			c, q = c+miss[u], q+ink[u]
		}
		if q > 0 {
			out[x] = c / q
		}
	}
	return out, end
}

const inkBands = 4

// faintInk is what a ground may vary by, as a gradient does.
const faintInk = 24

// columnsOf gives the ink of each column of a picture's content, in px and in bands from top to bottom, and
// where the content begins.
func columnsOf(p plane, ground uint32, strokes int) (out [][inkBands]float64, left int) {
	full := faintInk + 1
	x0, y0, x1, y1 := p.w, p.h, 0, 0
	for i, v := range p.px {
		if d := step(v, ground); d > faintInk {
			full = max(full, d)
			x, y := i%p.w, i/p.w
			x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x+1), max(y1, y+1)
		}
	}
	if x1-x0 < 4 || y1-y0 < 4 {
		return nil, 0
	}
	ink, runs, most := 0.0, 0, 0
	out = make([][inkBands]float64, x1-x0)
	for y := y0; y < y1; y++ {
		was, before := false, runs
		for x := range out {
			v := math.Max(0, float64(step(p.px[y*p.w+x0+x], ground)-faintInk)/float64(full-faintInk))
			out[x][(y-y0)*inkBands/(y1-y0)] += v
			ink += v
			if v > 0 && !was {
				runs++
			}
			was = v > 0
		}
		most = max(most, runs-before)
	}
	if most < strokes {
		return nil, 0
	}
	// Strokes are thin, and do not fill the line.
	if wide := ink / float64(max(1, runs)); wide > math.Max(3, 0.4*float64(y1-y0)) || ink > 0.6*float64((x1-x0)*(y1-y0)) {
		return nil, 0
	}
	// A stem on one column or on two is the same stem.
	soft := make([][inkBands]float64, len(out))
	for x := range out {
		for k := range inkBands {
			soft[x][k] = (out[max(0, x-1)][k] + 2*out[x][k] + out[min(len(out)-1, x+1)][k]) / 4
		}
	}
	return soft, x0
}

func apartBy(a, b [inkBands]float64) (d float64) {
	for k := range a {
		d += math.Abs(a[k] - b[k])
	}
	return d
}

func total(a [inkBands]float64) (t float64) {
	for _, v := range a {
		t += v
	}
	return t
}
