package photo

import "math"

// A place is a part of the panel, or of one of its outermost lines, where the dark outside shines in. A line strays over
// some pixels on either side, so its places are wide enough that a line which is faulty is the lesser part.
const (
	rim        = 2
	mostX      = 20
	panePlaces = mostX * (12 + 4*rim)
	leastShare = 0.002 // a spread below that, as a share of white, is that of the photo's own steps
)

// placesIn is into how many places a panel is cut across and down, by shape.
var placesIn = [shapes][2]int{aPixel: {mostX, 12}, aRow: {10, 6}, aColumn: {10, 6}, anArea: {10, 6}}

// placesOf gives the place of every pixel, by shape.
func placesOf(w, h int) (out [shapes][]int) {
	for shape, n := range placesIn {
		place := make([]int, w*h)
		for k := range place {
			x, y := k%w, k/w
			i, j := x*n[0]/w, y*n[1]/h
			d := min(x, y, w-1-x, h-1-y)
			switch {
			case d >= rim:
				place[k] = j*n[0] + i
			case y == d:
				place[k] = (n[1]+d)*n[0] + i
			case y == h-1-d:
				place[k] = (n[1]+rim+d)*n[0] + i
			case x == d:
				place[k] = (n[1]+2*rim+d)*n[0] + j
			default:
				place[k] = (n[1]+3*rim+d)*n[0] + j
			}
		}
		out[shape] = place
	}
	return out
}

// Of all that Gauss's law draws, least lies within leastWithin standard deviations, and most within mostWithin.
const least, leastWithin, most, mostWithin = 0.35, 0.4538, 0.8, 1.2816

// spreadOf is the standard deviation by place. It is told from the least of all strays, so that what is faulty has no say. On
// a panel that is taken for sound, most of them are asked as well: moiré may be strong in a corner of a place.
func spreadOf(stray []float32, place []int, sound bool) *[panePlaces]float32 {
	var per [panePlaces][]float32
	for k, v := range stray {
		per[place[k]] = append(per[place[k]], max(v, -v))
	}
	out := new([panePlaces]float32)
	for i, v := range per {
		out[i] = leastShare
		if n := float64(len(v)); n > 0 {
			out[i] = max(out[i], smallest(v, int(least*n))/leastWithin)
			if sound {
				out[i] = max(out[i], smallest(v, int(most*n))/mostWithin)
			}
		}
	}
	return out
}

// inSpreads gives strays as multiples of their spread: of what was learnt, or of their own where that is larger; up to mostWorse
// times, so that a panel which is faulty all over is not taken for a poor photo. Between the middles of places the spread goes over
// from one to the next, since moiré knows no borders.
func (p *Pane) inSpreads(stray []float32, places *[shapes][]int, card, shape, c, w int) []float32 {
	place, n := places[shape], placesIn[shape]
	own, learnt := spreadOf(stray, place, false), &p.Spread[card][shape][c]
	var by [panePlaces]float32
	for i := range by {
		by[i] = min(max(own[i], learnt[i]), mostWorse*learnt[i])
	}
	h := len(stray) / w
	out := make([]float32, len(stray))
	for y := range h {
		row := make([]float32, n[0]) // the places' spreads at this height
		j, next, share := middles(y, h, n[1])
		for i := range row {
			row[i] = by[j*n[0]+i]*(1-share) + by[next*n[0]+i]*share
		}
		for x := range w {
			k := y*w + x
			if min(x, y, w-1-x, h-1-y) < rim {
				out[k] = stray[k] / by[place[k]]
				continue
			}
			i, next, share := middles(x, w, n[0])
			out[k] = stray[k] / (row[i]*(1-share) + row[next]*share)
		}
	}
	return out
}

// middles says which two of n places pixel i of size lies between the middles of, and how near to the second it is.
func middles(i, size, n int) (a, b int, share float32) {
	at := (float64(i)+0.5)*float64(n)/float64(size) - 0.5
	a = min(max(int(math.Floor(at)), 0), n-1)
	return a, min(a+1, n-1), float32(min(max(at-float64(a), 0), 1))
}
