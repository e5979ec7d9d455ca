package drift

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"testing"
)

// epsilon allows for the order of additions; the check values have 15 digits.
const epsilon = 1e-9

type statistics struct {
	MannWhitney struct {
		Items []struct {
			Name   string
			X, Y   []float64
			UX     float64  `json:"U_of_x"`
			Exact  *float64 `json:"p_exact_two_sided"`
			Normal *float64 `json:"p_normal_continuity"`
			Tied   *float64 `json:"p_normal_continuity_tie_corrected"`
		}
	} `json:"mann_whitney"`
	FalseDiscovery struct {
		P        []float64
		Adjusted []float64 `json:"bh_adjusted"`
		Rejected int       `json:"rejected_at_q_0_05"`
	} `json:"false_discovery"`
}

func readStatistics(t *testing.T) statistics {
	t.Helper()
	data, err := os.ReadFile("testdata/statistics/ranksum.json")
	if err != nil {
		t.Fatal(err)
	}
	var s statistics
	if err := json.Unmarshal(data, &s); err != nil {
		t.Fatal(err)
	}
	if len(s.MannWhitney.Items) != 5 || len(s.FalseDiscovery.P) != 15 {
		t.Fatalf("%d pairs and %d p values read", len(s.MannWhitney.Items), len(s.FalseDiscovery.P))
	}
	return s
}

func TestRankSumAgainstPublishedValues(t *testing.T) {
	exact, normal := 0, 0
	for _, item := range readStatistics(t).MannWhitney.Items {
		got := RankSum(item.X, item.Y)
		if got.U != item.UX || !got.Exact {
			t.Errorf("%s: U = %v, exact %t; want %v, counted out", item.Name, got.U, got.Exact, item.UX)
		}
		if item.Exact != nil {
			exact++
			if math.Abs(got.P-*item.Exact) > epsilon {
				t.Errorf("%s: exact p = %.15g, want %.15g", item.Name, got.P, *item.Exact)
			}
		}
		for _, want := range []*float64{item.Normal, item.Tied} {
			if want == nil {
				continue
			}
			normal++
			if p := normalP(item.X, item.Y); math.Abs(p-*want) > epsilon {
				t.Errorf("%s: normal p = %.15g, want %.15g", item.Name, p, *want)
			}
			if p := normalP(item.Y, item.X); math.Abs(p-*want) > epsilon {
				t.Errorf("%s, sides exchanged: normal p = %.15g, want %.15g", item.Name, p, *want)
			}
		}
	}
	if exact != 4 || normal != 5 {
		t.Errorf("%d exact and %d normal values were held against the file, want 4 and 5", exact, normal)
	}
}

// Counting by ranks agrees with dealing the values out in every way, ties or not.
func TestExactAgainstDealingOut(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 9))
	for range 200 {
		n, m := 1+r.IntN(6), 1+r.IntN(6)
		all := make([]float64, n+m)
		for i := range all {
			all[i] = float64(r.IntN(8))
		}
		rank := func(v float64) float64 { // mean rank, by its definition
			less, same := 0, 0
			for _, w := range all {
				if w < v {
					less++
				} else if w == v {
					same++
				}
			}
			return float64(less) + float64(same+1)/2
		}
		sum := func(pick uint) (s float64) {
			for i, v := range all {
				if pick>>i&1 == 1 {
					s += rank(v)
				}
			}
			return s
		}
		mean := float64(n) * float64(n+m+1) / 2
		far := math.Abs(sum(1<<n-1) - mean)
		extreme, ways := 0, 0
		for pick := uint(0); pick < 1<<(n+m); pick++ {
			bits := 0
			for p := pick; p > 0; p &= p - 1 {
				bits++
			}
			if bits != n {
				continue
			}
			ways++
			if math.Abs(sum(pick)-mean) >= far-1e-9 {
				extreme++
			}
		}
		want := float64(extreme) / float64(ways)
		if got := RankSum(all[:n], all[n:]); math.Abs(got.P-want) > epsilon {
			t.Fatalf("p of %v against %v = %v, dealt out %v", all[:n], all[n:], got.P, want)
		}
	}
}

// Where the count ends the approximation must not jump.
func TestNormalMeetsExact(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 50 {
		x, y := make([]float64, 20), make([]float64, 20)
		for i := range x {
			x[i], y[i] = r.NormFloat64(), r.NormFloat64()+0.6
		}
		exact, normal := RankSum(x, y).P, normalP(x, y)
		if math.Abs(exact-normal) > 0.006 {
			t.Errorf("20 against 20: exact p = %v, normal %v", exact, normal)
		}
	}
	if got := RankSum(make([]float64, 30), make([]float64, 30)); got.P != 1 || got.Exact {
		t.Errorf("60 equal values: %+v, want p = 1 by the approximation", got)
	}
	if got := RankSum(nil, []float64{1}); got.P != 1 {
		t.Errorf("nothing against something: p = %v, want 1", got.P)
	}
}

func TestAdjustAgainstThePaper(t *testing.T) {
	s := readStatistics(t).FalseDiscovery
	got := Adjust(s.P)
	flagged := 0
	limit := Threshold(s.P, 0.05)
	for i := range s.P {
		if math.Abs(got[i]-s.Adjusted[i]) > epsilon {
			t.Errorf("p = %v adjusted to %v, want %v", s.P[i], got[i], s.Adjusted[i])
		}
		if s.P[i] <= limit {
			flagged++
		}
	}
	if flagged != s.Rejected {
		t.Errorf("%d flagged at 5 %%, the paper has %d", flagged, s.Rejected)
	}
	if limit := Threshold([]float64{0.2, 1}, 0.05); limit >= 0 {
		t.Errorf("nothing is small enough, but the threshold is %v", limit)
	}
}
