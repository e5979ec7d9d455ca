package drift

import (
	"math"
	"slices"
)

func (s *Series) values(from, to int) []float64 {
	v := make([]float64, 0, to-from)
	for _, p := range s.Seen[from:to] {
		v = append(v, p.Value)
	}
	return v
}

func (s *Series) constant() bool {
	return !slices.ContainsFunc(s.Seen, func(p Point) bool { return p.Value != s.Seen[0].Value })
}

// reachable says whether complete separation at the best place would be told from chance, for one figure.
func (s *Series) reachable() bool {
	places := s.places(0, len(s.Seen))
	for _, at := range places {
		p := 2 / math.Round(math.Exp(logChoose(len(s.Seen), at)))
		if p*float64(len(places)) <= DefaultRate {
			return true
		}
	}
	return false
}

func logChoose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}

// places lists where the stretch [from, to) may have changed: at changes of build, and in the middle of
// long stretches of one build.
func (s *Series) places(from, to int) []int {
	var at []int
	for i := from; i < to; {
		end := i + 1
		for end < to && s.Seen[end].Build == s.Seen[i].Build {
			end++
		}
		if end-i >= longStretch {
			at = append(at, i+(end-i)/2)
		}
		if end < to {
			at = append(at, end)
		}
		i = end
	}
	return slices.DeleteFunc(at, func(i int) bool { return i-from < minSide || to-i < minSide })
}

// strongest returns the smallest p over the places in [from, to) times their number, and the place where
// two medians fit the values best (least absolute deviations: J. Bai, Econometric Theory 11, 403-436,
// 1995). The two may lie apart: the smallest p favours the middle.
func (s *Series) strongest(from, to int) (at int, p float64) {
	places := s.places(from, to)
	least, fit := math.Inf(1), math.Inf(1)
	for _, i := range places {
		before, after := s.values(from, i), s.values(i, to)
		least = math.Min(least, RankSum(before, after).P)
		if d := deviation(before) + deviation(after); d < fit {
			at, fit = i, d
		}
	}
	return at, math.Min(1, least*float64(len(places)))
}

// deviation is the sum of the distances from the median.
func deviation(v []float64) (sum float64) {
	m := median(v)
	for _, x := range v {
		sum += math.Abs(x - m)
	}
	return sum
}

// split finds changes in [from, to), and then in what lies on either side of them (binary
// segmentation: A. J. Scott, M. Knott, Biometrics 30, 507-512, 1974).
func (s *Series) split(from, to int, limit float64) {
	at, p := s.strongest(from, to)
	if p > limit || len(s.places(from, to)) == 0 {
		return
	}
	c := s.measure(from, at, to)
	if math.Abs(c.Relative()) < s.Least || c.Before == c.After {
		return
	}
	s.Changes = append(s.Changes, c)
	s.split(from, at, limit)
	s.split(at, to, limit)
}

// measure describes the change at a place between two others.
func (s *Series) measure(from, at, to int) Change {
	before, after := s.values(from, at), s.values(at, to)
	return Change{At: at, Build: s.Seen[at].Build, Previous: s.Seen[at-1].Build, Run: s.Seen[at].Run,
		Before: median(before), After: median(after), RunsBefore: at - from, RunsAfter: to - at, P: RankSum(before, after).P}
}

// remeasure describes each change by the stretches next to it, once all are known.
func (s *Series) remeasure() {
	edges := []int{0}
	for _, c := range s.Changes {
		edges = append(edges, c.At)
	}
	edges = append(edges, len(s.Seen))
	for i := range s.Changes {
		s.Changes[i] = s.measure(edges[i], edges[i+1], edges[i+2])
	}
}

// median is the middle value, or the mean of the two middle ones.
func median(v []float64) float64 {
	v = slices.Sorted(slices.Values(v))
	n := len(v)
	if n%2 == 1 {
		return v[n/2]
	}
	return (v[n/2-1] + v[n/2]) / 2
}
