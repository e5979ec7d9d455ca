package photo

import (
	"math"

	"github.com/fascia-bench/fascia/capture/rectify"
)

// strips is into how many parts a panel's rows are divided for sums. It is a fixed number, so that what is summed up
// does not depend on the number of processors.
const strips = 8

// A normal holds the normal equations of one channel of register: the sums of products of movement in u and v, the
// prediction and one, each with the others and with what is seen.
type normal [4][5]float64

// register finds how much further than v.Move the photo has moved, by the gradient of the prediction. Gains and
// offsets are fitted along. Bounded influence (Huber) keeps what really differs from pulling.
func (o *Optics) register(v *sight, want func(y int) bool) (more rectify.Point) {
	h := v.seen.Height
	var gain, offset [3]float64
	for c := range gain {
		gain[c] = 1
	}
	for round := range 3 {
		var parts [strips][3]normal
		parallel(strips, func(lo, hi int) {
			for i := lo; i < hi; i++ {
				for y := max(1, h*i/strips); y < min(h-1, h*(i+1)/strips); y++ {
					if want != nil && !(want(y-1) && want(y) && want(y+1)) {
						continue
					}
					for c := range 3 {
						v.pull(c, y, want == nil, round == 0, gain[c], offset[c], more, &parts[i][c])
					}
				}
			}
		})
		// Unknown: the two movements, then gain and offset of each channel.
		a := make([][]float64, 8)
		for i := range a {
			a[i] = make([]float64, 9)
		}
		for i := range parts {
			for c := range 3 {
				at := [5]int{0, 1, 2 + 2*c, 3 + 2*c, 8}
				for j := range 4 {
					for k := range 5 {
						// The lower half is the upper half's mirror image.
						a[at[j]][at[k]] += parts[i][c][min(j, k)][max(j, k)]
					}
				}
			}
		}
		for i := range 2 {
			a[i][i] += 4 // a prior: a rig moves by half a pixel
		}
		for c := range 3 { // and priors for dark screens, whose gain can't be seen
			a[2+2*c][2+2*c] += 100
			a[2+2*c][8] += 100
			a[3+2*c][3+2*c] += 1e4
		}
		sol, ok := rectify.Solve(a)
		if !ok {
			return more
		}
		more = rectify.Point{X: sol[0], Y: sol[1]}
		for c := range 3 {
			gain[c], offset[c] = sol[2+2*c], sol[3+2*c]
		}
	}
	return more
}

// pull adds a row of a channel to its normal equations. Where all rows are wanted, the odd ones and the ends of
// the others are enough.
func (v *sight) pull(c, y int, all, first bool, gain, offset float64, more rectify.Point, to *normal) {
	w, h := v.seen.Width, v.seen.Height
	step := 2
	if y == 1 || y == h-2 {
		step = 1 // the panel's border is all there is to be seen of an even screen
	} else if y%2 == 0 && all {
		step = w - 3
	}
	q, seen, noise := v.want[c][y*w:][:w], v.seen.Light[c][y*w:][:w], v.noise[c][y*w:][:w]
	if v.soft[0][c] != nil {
		q, seen = v.soft[0][c][y*w:][:w], v.soft[1][c][y*w:][:w]
	}
	du, dv := v.du[c][y*w:][:w], v.dv[c][y*w:][:w]
	n := *to
	for x := 1; x < w-1; x += step {
		fu, fv, p, s := float64(du[x]), float64(dv[x]), float64(q[x]), float64(seen[x])
		weight := 1 / float64(noise[x])
		if r := s - gain*p - offset - fu*more.X - fv*more.Y; !first && r*r*weight > 9 {
			weight *= 3 / math.Sqrt(r*r*weight)
		}
		wu, wv, wp := weight*fu, weight*fv, weight*p
		n[0][0] += wu * fu
		n[0][1] += wu * fv
		n[0][2] += wu * p
		n[0][3] += wu
		n[0][4] += wu * s
		n[1][1] += wv * fv
		n[1][2] += wv * p
		n[1][3] += wv
		n[1][4] += wv * s
		n[2][2] += wp * p
		n[2][3] += wp
		n[2][4] += wp * s
		n[3][3] += weight
		n[3][4] += weight * s
	}
	*to = n
}
