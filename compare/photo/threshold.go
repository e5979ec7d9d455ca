package photo

import (
	"math"
	"slices"
)

// gumbel is the law of the largest of many: P(max <= x) = exp(-exp(-(x-Mu)/Beta)).
type gumbel struct{ Mu, Beta float64 }

// leastBeta keeps windows in which all was allowed for from finding wonders in the least of noise; squares of whitened
// sums have a spread of one and more.
const leastBeta = 0.1

// fitGumbel fits by probability weighted moments (Greenwood et al. 1979).
func fitGumbel(v []float64) gumbel {
	s := slices.Sorted(slices.Values(v))
	n := float64(len(s))
	var b0, b1 float64
	for i, x := range s {
		b0 += x / n
		b1 += x * float64(i) / (n - 1) / n
	}
	beta := max((2*b1-b0)/math.Ln2, leastBeta)
	return gumbel{b0 - 0.5772156649*beta, beta}
}

// blocksX, blocksY: into how many blocks the panel is cut for learning the tail.
const blocksX, blocksY, blocks = 6, 4, 6 * 4

// A tail says how often ranks are high on screens that have not changed. Above From, excesses are
// exponential with mean Scale, the limit law of Balkema, de Haan and Pickands for tails as of Gauss's law. That
// mean is itself estimated, from Photos independent excesses; allowing for that, a new
// excess follows Pareto's law with exponent Photos: (1 + x/(Photos*Scale))^-Photos.
type tail struct {
	From, Scale float64
	Rate        float64 // how many blocks of a photo exceed From, in the mean
	Photos      float64
}

// chance is the probability that an unchanged screen has a rank as high somewhere on the panel.
func (t *tail) chance(rank float64) float64 {
	x := max(0, rank-t.From)
	return -math.Expm1(-t.Rate * math.Pow(1+x/(t.Photos*t.Scale), -t.Photos))
}

// limit is the rank whose chance is p.
func (t *tail) limit(p float64) float64 {
	return t.From + t.Photos*t.Scale*(math.Pow(-math.Log1p(-p)/t.Rate, -1/t.Photos)-1)
}

// independent is for how many independent ones of its three highest blocks a trial counts: not for all, since what is wrong with a bench is
// wrong in all its photos alike. The fewer, the heavier the tail is taken to be. A made-up screen counts for less than one of the
// device's own, since it says less of those that are to be judged.
//
// With own screens at three quarters 36 and 34 of 1,040 photos of unchanged screens were below 1 in 20, at good and fair, on rigs of seeds 1000 to
// 1039, and 6 and 5 below 1 in 100, where 52 and 10 are due; at one and a half, by the tail's law, 44 and 42, 8 and 7. Of rigs of seeds 2000 to 2039, on which it was judged, README.md
// has the counts. Of made-up screens nothing was counted anew since the simulated lens is no disc of points.
const independent, independentMade = 1.5, 0.5

// photosOf is for how many independent excesses so many trials count, of which the first are own screens.
func photosOf(trials, own int) float64 {
	own = min(own, trials)
	return float64(own)*independent + float64(trials-own)*independentMade
}

// fitTail fits the best ranks of all blocks, a row for each photo, of which so many are independent.
func fitTail(ranks [][blocks]float64, photos float64) tail {
	var all []float64
	for i := range ranks {
		all = append(all, ranks[i][:]...)
	}
	slices.Sort(all)
	n := min(len(all)-1, 3*len(ranks)) // three blocks a photo: from where about every photo has some
	t := tail{From: all[len(all)-1-n], Rate: float64(n) / float64(len(ranks)), Photos: photos}
	for _, v := range all[len(all)-n:] {
		t.Scale += (v - t.From) / float64(n)
	}
	t.Scale = max(t.Scale, 0.1)
	return t
}

// learnWindows learns whitening, spread and the tail from photos of trials. Views of cards help only to tell where
// on the panel predictions are less sure. The first trials are own screens.
func (o *Optics) learnWindows(cards, trials []*sight, own int) {
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	if !o.repeats { // two photos of one screen differ by noise alone
		o.learnAllow(append(append([]*sight(nil), cards...), trials...))
	}
	o.White = o.covariance(trials)
	o.Windows = sizes()
	var all []*sums
	var z [3][]float32
	for _, v := range append(append([]*sight(nil), trials...), cards...) {
		o.whiten(v, &z)
		sum := new(sums)
		sum.total(&z, nil, w, h)
		all = append(all, sum)
	}
	best := make([][][blocks]float64, len(o.Windows))
	parallel(len(o.Windows), func(lo, hi int) {
		for i := lo; i < hi; i++ {
			best[i] = o.Windows[i].learn(all, len(trials))
		}
	})
	top := best[0]
	for j := range trials {
		for k := range blocks {
			r := math.Inf(-1)
			for i := range o.Windows {
				r = max(r, o.Windows[i].rank(best[i][j][k]))
			}
			top[j][k] = r
		}
	}
	o.Tail = fitTail(top, photosOf(len(trials), own))
}

// covariance is that of the channels' noise, over even areas.
func (o *Optics) covariance(views []*sight) [3][3]float64 {
	var cov [3][3]float64
	var n float64
	for _, v := range views {
		for k, e := range v.edge {
			if e > 0.3 {
				continue
			}
			var z [3]float64
			for c := range z {
				z[c] = float64(clamp(v.left[c][k]/sqrt32(v.noise[c][k]), 6))
			}
			for i := range 3 {
				for j := range 3 {
					cov[i][j] += z[i] * z[j]
				}
			}
			n++
		}
	}
	n = max(n, 1)
	for i := range 3 {
		for j := range 3 {
			cov[i][j] /= n
		}
	}
	return whitening(cov)
}

// worstShare is the share of photos that a cell's spread is taken from: those of the most spread. What a prediction
// lacks at a place, such as an overtone of moiré, is a share of light there, and depends on where a photo happens
// to stand: the mean over dark and bright screens says too little of a bright one.
const worstShare = 1.0 / 3

// worst is the mean of the worst share of q, with a photo's worth of belief that it is 1. It puts q in order.
func worst(q []float64) float64 {
	slices.Sort(q)
	n := int(math.Ceil(float64(len(q)) * worstShare))
	sum := 1.0
	for _, v := range q[len(q)-n:] {
		sum += v
	}
	return sum / float64(n+1)
}

// learn finds a window's spread, over the panel and by cell, and returns the best scores of each block of
// the trials, which come first in all. These are found with each trial's own share left out of the spread by
// cell, since new photos have none in it.
func (w *window) learn(all []*sums, trials int) [][blocks]float64 {
	type cell struct{ sum [3]float64 }
	per := make([][cells]cell, len(all))
	var count [cells]float64
	w.Std = [3]float64{1, 1, 1}
	w.Local, w.Usual = [cells][3]float64{}, 0
	dx, dy := min(w.W, all[0].w)/2, min(w.H, all[0].h)/2
	w.spread(all)
	for i, s := range all {
		s.each(w, func(x, y int, sq *[3]float64) {
			k := s.cell(x+dx, y+dy)
			q := &per[i][k].sum
			q[0], q[1], q[2] = q[0]+sq[0], q[1]+sq[1], q[2]+sq[2]
			if i == 0 {
				count[k]++
			}
		})
	}
	without := func(skip int) {
		var q []float64
		for k := range cells {
			for c := range 3 {
				q = q[:0]
				for i := range per {
					if i != skip && count[k] > 0 {
						q = append(q, per[i][k].sum[c]/count[k])
					}
				}
				w.Local[k][c] = max(1, worst(q))
			}
		}
	}
	var scores []scored
	var usual []float64
	raw := make([][]scored, trials)
	for i := range raw {
		without(i)
		scores = all[i].scores(w, scores)
		raw[i] = slices.Clone(scores)
		usual = append(usual, upperQuarter(scores))
	}
	w.Usual = median(usual)
	best := make([][blocks]float64, trials)
	var pool []float64
	for i := range best {
		f := 1.0
		if w.Usual > 0 { // else a quarter of all places hold nothing but what is allowed for
			f = 1 / min(max(usual[i]/w.Usual, 1), mostWorse)
		}
		for _, q := range raw[i] {
			b := (int(q.y)+dy)*blocksY/all[0].h*blocksX + (int(q.x)+dx)*blocksX/all[0].w
			best[i][b] = max(best[i][b], float64(q.score)*f)
		}
		pool = append(pool, best[i][:]...)
	}
	without(-1)
	w.Base = fitGumbel(pool)
	return best
}

// spread fits Std.
func (w *window) spread(all []*sums) {
	var sum [3]float64
	n := 0.0
	for _, s := range all {
		s.each(w, func(_, _ int, q *[3]float64) {
			sum[0], sum[1], sum[2], n = sum[0]+q[0], sum[1]+q[1], sum[2]+q[2], n+1
		})
	}
	for c := range sum {
		w.Std[c] = math.Sqrt(max(sum[c]/n, 1e-12))
	}
}

// whitening gives the lower triangular matrix that makes noise of covariance c white: the inverse of its
// Cholesky factor.
func whitening(c [3][3]float64) (out [3][3]float64) {
	var l [3][3]float64
	for i := range 3 {
		for j := 0; j <= i; j++ {
			s := c[i][j]
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			if i == j {
				l[i][i] = math.Sqrt(max(s, 1e-6))
			} else {
				l[i][j] = s / l[j][j]
			}
		}
	}
	for j := range 3 {
		for i := j; i < 3; i++ {
			s := 0.0
			if i == j {
				s = 1
			}
			for k := j; k < i; k++ {
				s -= l[i][k] * out[k][j]
			}
			out[i][j] = s / l[i][i]
		}
	}
	return out
}
