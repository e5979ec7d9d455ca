package drift

import (
	"math"
	"slices"
)

// Adjust returns, for each p, the smallest rate of false discoveries at which it would be flagged
// together with all smaller ones: the step-up procedure of Y. Benjamini, Y. Hochberg, J. R. Statist. Soc.
// B 57, 289-300, 1995. It holds for independent figures and for those that move together (Y. Benjamini,
// D. Yekutieli, Annals of Statistics 29, 1165-1188, 2001), as the settle times of one device do.
func Adjust(p []float64) []float64 {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int {
		switch {
		case p[a] < p[b]:
			return -1
		case p[a] > p[b]:
			return 1
		}
		return 0
	})
	adjusted := make([]float64, len(p))
	least := 1.0
	for k, i := range slices.Backward(order) {
		least = math.Min(least, p[i]*float64(len(p))/float64(k+1))
		adjusted[i] = least
	}
	return adjusted
}

// Threshold returns the bound at or below which p is flagged when the rate of false discoveries is held:
// rate k/n where k of n are flagged; negative where none is.
func Threshold(p []float64, rate float64) float64 {
	flagged := 0
	for _, q := range Adjust(p) {
		if q <= rate {
			flagged++
		}
	}
	if flagged == 0 {
		return -1
	}
	return rate * float64(flagged) / float64(len(p))
}
