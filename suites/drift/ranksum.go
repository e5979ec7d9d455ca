package drift

import (
	"cmp"
	"math"
	"slices"
)

// A RankSumResult is what the rank-sum test says of two samples.
type RankSumResult struct {
	// U counts the pairs in which the value of the first sample is the larger; a tie counts one half.
	U float64
	// P is two-sided: how often chance alone would part the samples at least as far.
	P float64
	// Exact says that P was counted out and not approximated.
	Exact bool
}

// exactUpTo is the largest number of values whose distribution is counted out. That takes about n³ of
// them; beyond it the normal approximation is good to two digits where it matters.
const exactUpTo = 40

// RankSum is the two-sided rank-sum test (F. Wilcoxon, Biometrics Bulletin 1, 80-83, 1945; H. B. Mann,
// D. R. Whitney, Annals of Mathematical Statistics 18, 50-60, 1947). Up to 40 values the distribution of
// the rank sum over all ways to deal out the values is counted, ties included: they share the mean of
// their ranks. Beyond, it is the normal approximation. With no values on a side P is 1.
func RankSum(x, y []float64) RankSumResult {
	if len(x) == 0 || len(y) == 0 {
		return RankSumResult{P: 1}
	}
	ranks, sum := doubledRanks(x, y)
	u := float64(sum)/2 - float64(len(x)*(len(x)+1))/2
	if len(x)+len(y) > exactUpTo {
		return RankSumResult{U: u, P: normalP(x, y)}
	}
	return RankSumResult{U: u, P: exactP(ranks, len(x), sum), Exact: true}
}

// doubledRanks returns twice the rank of every value, so that shared ranks are whole numbers, and their
// sum over x.
func doubledRanks(x, y []float64) (ranks []int, sum int) {
	type value struct {
		v     float64
		first bool
	}
	var all []value
	for _, v := range x {
		all = append(all, value{v, true})
	}
	for _, v := range y {
		all = append(all, value{v, false})
	}
	slices.SortFunc(all, func(a, b value) int { return cmp.Compare(a.v, b.v) })
	ranks = make([]int, len(all))
	for i := 0; i < len(all); {
		j := i
		for j < len(all) && all[j].v == all[i].v {
			j++
		}
		for k := i; k < j; k++ {
			ranks[k] = i + 1 + j // twice the mean of the ranks i+1 to j
			if all[k].first {
				sum += ranks[k]
			}
		}
		i = j
	}
	return ranks, sum
}

// exactP is the share of all ways to choose n of the ranks whose sum lies at least as far from its mean
// as sum does. The ways are counted rank by rank: ways[k][s] chooses k of those seen with the sum s.
func exactP(ranks []int, n, sum int) float64 {
	total := 0
	for _, r := range ranks {
		total += r
	}
	ways := make([][]float64, n+1)
	for k := range ways {
		ways[k] = make([]float64, total+1)
	}
	ways[0][0] = 1
	for _, r := range ranks {
		for k := n; k >= 1; k-- {
			from, to := ways[k-1], ways[k]
			for s := total; s >= r; s-- {
				to[s] += from[s-r]
			}
		}
	}
	// The mean of the sum is n total/N: compared in whole numbers, times N.
	far := abs(sum*len(ranks) - n*total)
	var extreme, all float64
	for s, w := range ways[n] {
		all += w
		if abs(s*len(ranks)-n*total) >= far {
			extreme += w
		}
	}
	return extreme / all
}

func abs(v int) int {
	if v < 0 {
		return -v
	}
	return v
}

// normalP approximates the two-sided P by the normal distribution, with the continuity correction and
// the correction of the variance for ties (E. L. Lehmann, Nonparametrics, 1975, appendix, section 3).
func normalP(x, y []float64) float64 {
	n, m := float64(len(x)), float64(len(y))
	_, sum := doubledRanks(x, y)
	u := float64(sum)/2 - n*(n+1)/2
	ties := 0.0
	counts := map[float64]float64{}
	for _, v := range slices.Concat(x, y) {
		counts[v]++
	}
	for _, t := range counts {
		ties += t*t*t - t
	}
	sd := math.Sqrt(n * m / 12 * (n + m + 1 - ties/((n+m)*(n+m-1))))
	d := math.Abs(u-n*m/2) - 0.5
	if sd == 0 || d <= 0 {
		return 1
	}
	return math.Erfc(d / sd / math.Sqrt2)
}
